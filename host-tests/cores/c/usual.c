/* SPDX-License-Identifier: MIT OR Apache-2.0
 * The usual ways in C, the same constants as images/src/usual.rs. */
#include <stdint.h>

uint16_t c_divided_f32(uint16_t count)
{
    return (uint16_t)(((float)count + 0.5f) * (4275.25f / 4096.0f) + 0.5f);
}

uint16_t c_divided_u32_division(uint16_t count)
{
    return (uint16_t)(((2 * (uint32_t)count + 1) * 427525u + 409600u) / 819200u);
}

uint16_t c_divided_u32_shift(uint16_t count)
{
    return (uint16_t)(((uint32_t)count * 68404u + 34202u + 32768u) >> 16);
}

uint16_t c_supply_f32(uint16_t count)
{
    return (uint16_t)(1200.0f * 4096.0f / ((float)count + 0.5f) + 0.5f);
}

uint16_t c_supply_u32_division(uint16_t count)
{
    return (uint16_t)((2UL * 1200UL * 4096UL + count) / (2 * (uint32_t)count + 1));
}
