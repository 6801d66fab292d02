#pragma once

#include <numbers>

namespace driftglow::constant {

inline constexpr double pi = std::numbers::pi;

// Exact by the SI (2019): charge [C], Boltzmann [J/K], gas constant [J/(mol K)],
// speed of light [m/s].
inline constexpr double elementary_charge = 1.602176634e-19;
inline constexpr double boltzmann = 1.380649e-23;
inline constexpr double molar_gas = 8.31446261815324;
inline constexpr double light_speed = 299792458.0;

// Measured, CODATA 2022 [codata2022]: magnetic constant [H/m], and the electric one [F/m] that goes with it.
inline constexpr double mu_0 = 1.25663706127e-6;
inline constexpr double epsilon_0 = 1.0 / (mu_0 * light_speed * light_speed);

// Conventional values and standard conditions: gravity [m/s2] (CGPM 1901), zero Celsius [K], atmosphere [Pa].
inline constexpr double gravity = 9.80665;
inline constexpr double zero_celsius = 273.15;
inline constexpr double standard_pressure = 101325.0;

// Dry air: molar mass [kg/mol] of the CIPM-2007 standard composition [picard2008].
inline constexpr double molar_mass_air = 28.96546e-3;

// Annealed copper, IEC 60028 [iec60028]: resistivity at 20 degC [ohm m], temperature coefficient [1/K],
// density [kg/m3].
inline constexpr double copper_resistivity_20 = 1.7241e-8;
inline constexpr double copper_temperature_coefficient = 0.00393;
inline constexpr double copper_density = 8890.0;

}  // namespace driftglow::constant
