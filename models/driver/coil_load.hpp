#pragma once

#include <vector>

#include "models/coil/coil_system.hpp"
#include "models/coil/series_circuit.hpp"

namespace driftglow::driver {

// A load at one frequency and its coils' temperatures.
struct LoadState {
  double L;                             // H, at the terminals
  coil::Resistance resistance;          // ohm; total: at the terminals, with `elsewhere`
  std::vector<double> coil_resistance;  // ohm, a coil: its loss over half the square of the terminals' peak
                                        // current; together with `elsewhere` the total
  std::vector<double> current_share;    // 1, a coil: its current over the terminals', amplitudes
  double elsewhere = 0.0;               // ohm, lost in passive conductors and in other circuits' coils
};

// What a driver feeds: coaxial coils in series, or one circuit of a coil system whose other circuits'
// terminals are open. Refers to what it is made from.
class CoilLoad {
 public:
  CoilLoad(const coil::SeriesCircuit& coils) : series_(&coils) {}
  // The passive conductors stay at metal_temperature [K]. The proximity part of a resistance is what remains
  // of the coils' whole loss.
  CoilLoad(const coil::CoilSystem& system, int circuit, double metal_temperature)
      : system_(&system), circuit_(circuit), metal_temperature_(metal_temperature) {}

  int coils() const;
  const coil::WoundCoil& coil(int number) const;

  // Inductance [H] with all coils at one temperature.
  double inductance(double frequency, double temperature) const;
  // What the currents induced in the wires add to it [H], <= 0; of a system each coil in its own field. Left
  // out of the inductance above (series_circuit.hpp), but a meter reads it.
  double induced_inductance(double frequency, double temperature) const;
  // temperature [K]: a coil. A system takes the coils' mean.
  LoadState at(double frequency, const std::vector<double>& temperature) const;
  coil::ResistanceTrust resistance_trust(double frequency, double temperature) const;

 private:
  const coil::SeriesCircuit* series_ = nullptr;
  const coil::CoilSystem* system_ = nullptr;
  int circuit_ = 0;
  double metal_temperature_ = 0.0;
};

}  // namespace driftglow::driver
