front_end_channel call_front_end_channel;
front_end_module call_front_end_module;
/* 0 when the record was accepted and the channel started. */
uint8_t call_front_end_start(front_end_channel *channel)
{
    static const uint8_t record[32] = { /* RECORD */ };
    if (front_end_load(record, &call_front_end_module) != FRONT_END_ACCEPTED)
        return 1;
    return (uint8_t)front_end_channel_start(channel, &call_front_end_module);
}

uint16_t call_front_end_samples[STREAM] = { /* SAMPLES */ };

/* As the library's images pack a whole reading: voltage or 65 535, temperature or -32 768, faults, alarms. */
uint64_t call_front_end_reading(uint16_t first, front_end_channel *channel, const uint16_t *samples)
{
    const uint32_t sensor = (uint32_t)(uint16_t)(first << 6);
    front_end_reading reading;
    front_end_channel_read(channel, samples + first, &sensor, 0, &reading);
    const uint16_t voltage = reading.voltage_fault == FRONT_END_NO_FAULT ? reading.voltage : UINT16_MAX;
    const uint16_t temperature = reading.temperature_fault == FRONT_END_NO_FAULT ? (uint16_t)reading.temperature : UINT16_C(0x8000);
    const uint32_t low = voltage | (uint32_t)temperature << 16, high = reading.doubts | (uint32_t)reading.alarms << 16;
    return low | (uint64_t)high << 32;
}
