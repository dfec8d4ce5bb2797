#include "/tmp/hd/now/hut-supply-thermistor.h"
#include <stdint.h>
uint8_t vo(uint32_t c,uint16_t*t){return hut_supply_thermistor_voltage(c,t);}
uint8_t cv(hut_supply_thermistor_module*m,uint32_t c,uint16_t*t){return hut_supply_thermistor_calibrated_voltage(m,c,t);}
