#pragma once

namespace driftglow::driver {

struct Surroundings {
  double temperature;  // K
  double pressure;     // Pa
};

// Heat [W] that a coil with vertical axis gives to still air and to the walls around it from its outer
// cylinder alone (diameter, height [m]) at a surface temperature [K]:
//   natural convection on a vertical surface, Nu = 0.68 + 0.670 Ra^(1/4) / [1 + (0.492/Pr)^(9/16)]^(4/9),
//   laminar, Ra < 1e9 (Churchill & Chu 1975 [churchill1975]), air at the film temperature; and grey
//   radiation, emissivity 0.9.
// Estimate, on the safe side: the inner side is taken as closed by the former, spaced turns as a closed
// surface, the fan's draught and conduction into the vessel as absent. 0 when not warmer than the
// surroundings.
double outer_surface_heat(double diameter, double height, double surface_temperature,
                          const Surroundings& surroundings);

// Copper temperature [K] at which that heat equals the loss [W] >= 0; no gradient inside the winding. 1000 K
// above the surroundings means that no balance was found below.
double balance_temperature(double loss, double diameter, double height, const Surroundings& surroundings);

}  // namespace driftglow::driver
