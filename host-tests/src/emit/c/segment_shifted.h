    __asm__("/* SHIFTS */" : [k] "+r"(position));
