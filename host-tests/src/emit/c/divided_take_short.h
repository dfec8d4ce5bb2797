    if (bytes[1] == FRONT_END_SHORT_SHIFT) {
        const uint16_t factor = front_end_half(bytes + 16);
        const uint32_t addend = front_end_word(bytes + 20), sum = (uint32_t)factor * last + addend;
        if (front_end_half(bytes + 18) != 0 || sum < addend || (sum >> FRONT_END_SHORT_SHIFT) >> 16 != 0)
            return 0;
        module->factor[0] = factor;
        module->addend = addend;
        module->quick = counts;
        return 1;
    }
