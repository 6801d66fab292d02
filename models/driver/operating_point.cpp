#include "models/driver/operating_point.hpp"

#include <cmath>
#include <string>

#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::driver {
namespace {

using constant::pi;

void require_positive(double value, const std::string& what, const std::string& unit) {
  if (!(value > 0.0) || !std::isfinite(value))
    throw InputError("the driver's " + what + " is " + std::to_string(value) + " " + unit +
                     "; it must be greater than zero");
}

void validate(const CurrentFedPushPull& d) {
  require_positive(d.supply_voltage, "supply voltage", "V");
  require_positive(d.capacitance, "tank capacitance", "F");
  if (!(d.voltage_drop >= 0.0 && d.voltage_drop < d.supply_voltage))
    throw InputError("the driver's voltage drop is " + std::to_string(d.voltage_drop) +
                     " V; it must be at least zero and less than the supply voltage of " +
                     std::to_string(d.supply_voltage) + " V");
  if (!(d.capacitor_loss_tangent >= 0.0 && d.capacitor_loss_tangent < 1.0))
    throw InputError("the tank capacitor's loss tangent is " + std::to_string(d.capacitor_loss_tangent) +
                     "; expected 0 to 1, e.g. 0.0005 for polypropylene film");
  if (d.chokes != Chokes::ideal) require_positive(d.choke_inductance, "choke inductance", "H");
}

// kappa/L_ch [1/H].
double choke_term(const CurrentFedPushPull& d) {
  switch (d.chokes) {
    case Chokes::ideal:
      return 0.0;
    case Chokes::two:
      return (1.0 - 4.0 / (pi * pi)) / d.choke_inductance;
    case Chokes::centre_tap:
      return 0.25 * (1.0 - 8.0 / (pi * pi)) / d.choke_inductance;
  }
  throw LogicError("unknown kind of choke");
}

// The positive root u = omega^2 of C L^2 u^2 + (C R^2 - g L^2 - L) u - g R^2 = 0, the condition of unity
// power factor.
double resonance(double L, double R, double C, double choke) {
  const double linear = C * R * R - choke * L * L - L;
  if (linear >= 0.0)
    throw InputError("the drive coils do not resonate with the tank capacitor: their resistance of " +
                     std::to_string(R) + " ohm is not below sqrt(L/C) = " + std::to_string(std::sqrt(L / C)) +
                     " ohm; use thicker wire or a smaller capacitance");
  const double square = C * L * L;
  const double u = (-linear + std::sqrt(linear * linear + 4.0 * square * choke * R * R)) / (2.0 * square);
  return std::sqrt(u) / (2.0 * pi);
}

// Coils at one frequency and their own temperatures.
struct CoilState {
  double L;
  coil::Resistance resistance;
  std::vector<double> coil_resistance;
};

double mean(const std::vector<double>& values) {
  double sum = 0.0;
  for (const double value : values) sum += value;
  return sum / static_cast<double>(values.size());
}

CoilState evaluate(const coil::SeriesCircuit& coils, double frequency,
                   const std::vector<double>& temperature) {
  CoilState state{coils.inductance(frequency, mean(temperature)), {}, {}};
  for (std::size_t c = 0; c < temperature.size(); ++c) {
    const auto part = coils.coil_resistance(static_cast<int>(c), frequency, temperature[c]);
    state.resistance += part;
    state.coil_resistance.push_back(part.total);
  }
  return state;
}

struct Excitation {
  double frequency, current_peak;
};

// Iterates coils, excitation and temperatures to a fixed point. The loop gain is small (R enters the
// frequency by 1/Q^2, the temperature enters R by 0.4 %/K), save for a winding that cooks: its temperature
// meets the 1000 K stop.
template <class Excite>
OperatingPoint settle(const coil::SeriesCircuit& coils, const Surroundings& surroundings,
                      double first_frequency, const Excite& excite) {
  std::vector<double> temperature(coils.coils().size(), surroundings.temperature);
  Excitation now{first_frequency, 0.0};
  for (int i = 0; i < 200; ++i) {
    const CoilState state = evaluate(coils, now.frequency, temperature);
    const Excitation next = excite(state);
    double change = std::fabs(next.frequency / now.frequency - 1.0);
    for (std::size_t c = 0; c < temperature.size(); ++c) {
      const auto& coil = coils.coils()[c];
      const double loss = 0.5 * next.current_peak * next.current_peak * state.coil_resistance[c];
      const double warm = balance_temperature(loss, 2.0 * coil.outer_radius, coil.axial_length, surroundings);
      change = std::fmax(change, std::fabs(warm / temperature[c] - 1.0));
      temperature[c] = warm;
    }
    now = next;
    if (change > 1e-12) continue;
    OperatingPoint point{};
    point.frequency = now.frequency;
    point.current_peak = now.current_peak;
    point.L = state.L;
    point.resistance = state.resistance;
    point.coil_voltage_peak =
        now.current_peak * std::hypot(state.resistance.total, 2.0 * pi * now.frequency * state.L);
    point.resistance_trust = coils.resistance_trust(now.frequency, mean(temperature));
    point.copper_loss = 0.5 * now.current_peak * now.current_peak * state.resistance.total;
    point.copper_temperature = temperature;
    return point;
  }
  throw LogicError("the driver's operating point did not settle in 200 rounds");
}

}  // namespace

double OperatingPoint::Q() const {
  return 2.0 * pi * frequency * L / resistance.total;
}

OperatingPoint operating_point(const CurrentFedPushPull& d, const coil::SeriesCircuit& coils,
                               const Surroundings& surroundings) {
  validate(d);
  const double tank_peak = pi * (d.supply_voltage - d.voltage_drop);
  const double choke = choke_term(d);
  // Start where the internal inductance is still whole; 1 kHz is below any tank that a maker would build.
  const double first = resonance(coils.inductance(1e3, surroundings.temperature), 0.0, d.capacitance, choke);
  OperatingPoint point = settle(coils, surroundings, first, [&](const CoilState& state) {
    const double frequency = resonance(state.L, state.resistance.total, d.capacitance, choke);
    return Excitation{frequency,
                      tank_peak / std::hypot(state.resistance.total, 2.0 * pi * frequency * state.L)};
  });

  TankPoint tank{};
  tank.capacitor_voltage_peak = tank_peak;
  const double susceptance = 2.0 * pi * point.frequency * d.capacitance;
  tank.capacitor_current_rms = susceptance * tank_peak / std::sqrt(2.0);
  tank.capacitor_loss = 0.5 * tank_peak * tank_peak * susceptance * d.capacitor_loss_tangent;
  tank.supply_current = (point.copper_loss + tank.capacitor_loss) / (d.supply_voltage - d.voltage_drop);
  tank.supply_power = d.supply_voltage * tank.supply_current;
  const auto compare = [&](Rating rating, double value, const std::optional<double>& limit) {
    if (limit && value > *limit) tank.exceeded.push_back({rating, value, *limit});
  };
  compare(Rating::supply_current, tank.supply_current, d.supply_current_rating);
  compare(Rating::capacitor_voltage, tank.capacitor_voltage_peak, d.capacitor_voltage_rating);
  compare(Rating::capacitor_current, tank.capacitor_current_rms, d.capacitor_current_rating);
  point.tank = std::move(tank);
  return point;
}

OperatingPoint operating_point(const GivenCurrent& d, const coil::SeriesCircuit& coils,
                               const Surroundings& surroundings) {
  require_positive(d.current_peak, "coil current", "A");
  require_positive(d.frequency, "frequency", "Hz");
  return settle(coils, surroundings, d.frequency, [&](const CoilState&) {
    return Excitation{d.frequency, d.current_peak};
  });
}

}  // namespace driftglow::driver
