#pragma once

namespace driftglow::air {

// Density of dry air [kg/m3], ideal gas: p M / (R_gas T). temperature [K], pressure [Pa]. Humidity is
// neglected: at 20 degC saturated air is 1 % lighter. Throws InputError outside 200-400 K or at pressure <=
// 0.
double density(double temperature, double pressure);

// Dynamic viscosity of air [Pa s] by Sutherland's law, 1.458e-6 T^1.5 / (T + 110.4 K), temperature T [K].
// Does not depend on pressure; within about 1 % for 200-400 K, InputError outside. Source: [ussa1976].
double dynamic_viscosity(double temperature);

}  // namespace driftglow::air
