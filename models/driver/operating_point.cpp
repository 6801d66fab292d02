#include "models/driver/operating_point.hpp"

#include <array>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <string>

#include "models/constants.hpp"
#include "models/driver/mean.hpp"
#include "models/error.hpp"

namespace driftglow::driver {
namespace {

using constant::pi;

void require_positive(double value, const std::string& what, const std::string& unit) {
  if (!(value > 0.0) || !std::isfinite(value))
    throw InputError("the driver's " + what + " is " + std::to_string(value) + " " + unit +
                     "; it must be greater than zero");
}

void require_tank(double supply_voltage, double capacitance, double loss_tangent) {
  require_positive(supply_voltage, "supply voltage", "V");
  require_positive(capacitance, "tank capacitance", "F");
  if (!(loss_tangent >= 0.0 && loss_tangent < 1.0))
    throw InputError("the tank capacitor's loss tangent is " + std::to_string(loss_tangent) +
                     "; expected 0 to 1, e.g. 0.0005 for polypropylene film");
}

void validate(const CurrentFedPushPull& d) {
  require_tank(d.supply_voltage, d.capacitance, d.capacitor_loss_tangent);
  if (!(d.voltage_drop >= 0.0 && d.voltage_drop < d.supply_voltage))
    throw InputError("the driver's voltage drop is " + std::to_string(d.voltage_drop) +
                     " V; it must be at least zero and less than the supply voltage of " +
                     std::to_string(d.supply_voltage) + " V");
  if (d.chokes != Chokes::ideal) require_positive(d.choke_inductance, "choke inductance", "H");
}

void validate(const VoltageFedSeries& d) {
  require_tank(d.supply_voltage, d.capacitance, d.capacitor_loss_tangent);
  if (!(d.switch_resistance >= 0.0) || !std::isfinite(d.switch_resistance))
    throw InputError("the driver's switch resistance is " + std::to_string(d.switch_resistance) +
                     " ohm; it must be at least zero");
  if (d.frequency) require_positive(*d.frequency, "frequency", "Hz");
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

LoadState evaluate(const CoilLoad& coils, double frequency, const std::vector<double>& temperature,
                   double inductance_factor) {
  LoadState state = coils.at(frequency, temperature);
  state.L *= inductance_factor;
  return state;
}

struct Excitation {
  double frequency, current_peak;
};

std::complex<double> reflected(const Setting& setting, const Excitation& at) {
  return setting.reflected && at.current_peak > 0.0 ? setting.reflected(at.frequency, at.current_peak) : 0.0;
}

[[noreturn]] void refuse_close_tags() {
  throw InputError(
      "the tags couple so closely to the drive coils that the driver's frequency does not settle; use fewer "
      "tags or tune them off the drive");
}

// Iterates coils, tags, excitation and temperatures to a fixed point. The loop gain is small (R enters the
// frequency by 1/Q^2, the temperature enters R by 0.4 %/K, the tags' reactance the frequency by about k^2 Q^2
// of theirs), save for a winding that cooks: its temperature meets the 1000 K stop; and for tags beyond
// critical coupling, which have several resonances.
template <class Excite>
OperatingPoint settle(const CoilLoad& coils, const Surroundings& surroundings, const Setting& setting,
                      double first_frequency, const Excite& excite) {
  require_positive(setting.inductance_factor, "inductance factor", "");
  std::vector<double> temperature(coils.coils(), surroundings.temperature);
  Excitation now{first_frequency, 0.0};
  for (int i = 0; i < 200; ++i) {
    const LoadState state = evaluate(coils, now.frequency, temperature, setting.inductance_factor);
    const Excitation next = excite(state, now);
    double change = std::fmax(std::fabs(next.frequency / now.frequency - 1.0),
                              std::fabs(next.current_peak - now.current_peak) / next.current_peak);
    for (std::size_t c = 0; c < temperature.size(); ++c) {
      const auto& coil = coils.coil(static_cast<int>(c));
      const double loss = 0.5 * next.current_peak * next.current_peak * state.coil_resistance[c];
      const double warm = balance_temperature(loss, 2.0 * coil.outer_radius, coil.axial_length, surroundings);
      change = std::fmax(change, std::fabs(warm / temperature[c] - 1.0));
      temperature[c] = warm;
    }
    now = next;
    // The tags' glow curves are met to a few digits only, and their last ones may jitter.
    if (change > (setting.reflected ? 1e-9 : 1e-12)) continue;
    OperatingPoint point{};
    point.frequency = now.frequency;
    point.current_peak = now.current_peak;
    point.L = state.L;
    point.resistance = state.resistance;
    point.reflected = reflected(setting, now);
    point.tag_power = 0.5 * now.current_peak * now.current_peak * point.reflected.real();
    point.coil_voltage_peak =
        now.current_peak *
        std::abs(point.reflected +
                 std::complex<double>(state.resistance.total, 2.0 * pi * now.frequency * state.L));
    point.resistance_trust = coils.resistance_trust(now.frequency, mean(temperature));
    const double half_square = 0.5 * now.current_peak * now.current_peak;
    point.copper_loss = half_square * (state.resistance.total - state.elsewhere);
    point.elsewhere_loss = half_square * state.elsewhere;
    point.copper_temperature = temperature;
    return point;
  }
  if (setting.reflected) refuse_close_tags();
  throw LogicError("the driver's operating point did not settle in 200 rounds");
}

template <class Driver>
void watch_ratings(const Driver& d, TankPoint& tank) {
  const auto compare = [&](Rating rating, double value, const std::optional<double>& limit) {
    if (limit && value > *limit) tank.exceeded.push_back({rating, value, *limit});
  };
  compare(Rating::supply_current, tank.supply_current, d.supply_current_rating);
  compare(Rating::capacitor_voltage, tank.capacitor_voltage_peak, d.capacitor_voltage_rating);
  compare(Rating::capacitor_current, tank.capacitor_current_rms, d.capacitor_current_rating);
}

double arm_amplitude(const VoltageFedSeries& d) {
  return d.bridge == Bridge::full ? d.supply_voltage : 0.5 * d.supply_voltage;
}

double path_resistance(const VoltageFedSeries& d) {
  return (d.bridge == Bridge::full ? 2.0 : 1.0) * d.switch_resistance;
}

// The coil current [A peak] I |Z + Z_tags(I)| = V by bracketing: the tags take only real power, so it lies
// below V/Re Z.
double loaded_current(double voltage, std::complex<double> own, double frequency, const Setting& setting) {
  const double most = voltage / own.real();
  if (!setting.reflected) return voltage / std::abs(own);
  const auto excess = [&](double current) {
    return current * std::abs(own + reflected(setting, {frequency, current})) - voltage;
  };
  const double top = excess(most);
  if (!(top > 0.0)) return most;
  std::uintmax_t rounds = 100;
  const auto bracket = boost::math::tools::toms748_solve(
      excess, 0.0, most, -voltage, top, boost::math::tools::eps_tolerance<double>(48), rounds);
  return 0.5 * (bracket.first + bracket.second);
}

constexpr int highest_harmonic = 25;

// The coil current's wave form: the triangle that the square wave would drive through the inductance alone,
// known in closed form, plus what each harmonic differs from that by, which falls as 1/n^3.
class BridgeWave {
 public:
  // triangle_peak: amplitude pi/(2 omega L) [A]; difference: phasors [A] of n = 1, 3, ... against the square
  // wave's sine.
  BridgeWave(double triangle_peak, std::array<std::complex<double>, highest_harmonic + 1> difference)
      : triangle_peak_(triangle_peak), difference_(difference) {}

  // theta in 0..pi, the positive half of the square wave.
  double operator()(double theta) const {
    double sum = triangle_peak_ * (2.0 * theta / pi - 1.0);
    for (int n = 1; n <= highest_harmonic; n += 2)
      sum += std::imag(difference_[n] * std::polar(1.0, n * theta));
    return sum;
  }

  double peak() const {
    constexpr int steps = 720;
    int best = 0;
    double largest = 0.0;
    for (int i = 0; i <= steps; ++i) {
      const double value = std::fabs((*this)(pi * i / steps));
      if (value > largest) {
        largest = value;
        best = i;
      }
    }
    // Parabola through the three samples around it, unless at the corner of the change-over.
    if (best == 0 || best == steps) return largest;
    const double a = std::fabs((*this)(pi * (best - 1) / steps)),
                 c = std::fabs((*this)(pi * (best + 1) / steps));
    return largest + 0.125 * (a - c) * (a - c) / (2.0 * largest - a - c);
  }

 private:
  double triangle_peak_;
  std::array<std::complex<double>, highest_harmonic + 1> difference_;
};

}  // namespace

double OperatingPoint::Q() const {
  return 2.0 * pi * frequency * L / resistance.total;
}

double supply_for(const CurrentFedPushPull& driver, double power) {
  return power * driver.supply_voltage / (driver.supply_voltage - driver.voltage_drop);
}

double supply_for(const VoltageFedSeries&, double power) {
  return power;
}

double supply_for(const GivenCurrent&, double power) {
  return power;
}

double smallest_trusted_choke(Chokes chokes, double L) {
  switch (chokes) {
    case Chokes::ideal:
      return 0.0;
    case Chokes::two:
      return 1.7 * L;
    case Chokes::centre_tap:
      return 1.2 * L;
  }
  throw LogicError("unknown kind of choke");
}

OperatingPoint operating_point(const CurrentFedPushPull& d, const CoilLoad& coils,
                               const Surroundings& surroundings, const Setting& setting) {
  validate(d);
  const double tank_peak = pi * (d.supply_voltage - d.voltage_drop);
  const double choke = choke_term(d);
  // Start where the internal inductance is still whole; 1 kHz is below any tank that a maker would build.
  const double first = resonance(setting.inductance_factor * coils.inductance(1e3, surroundings.temperature),
                                 0.0, d.capacitance, choke);
  OperatingPoint point =
      settle(coils, surroundings, setting, first, [&](const LoadState& state, const Excitation& last) {
        const auto tags = reflected(setting, last);
        const double L = state.L + tags.imag() / (2.0 * pi * last.frequency);
        const double R = state.resistance.total + tags.real();
        if (setting.reflected && !(L > d.capacitance * R * R)) refuse_close_tags();
        const double frequency = resonance(L, R, d.capacitance, choke);
        return Excitation{frequency, tank_peak / std::hypot(R, 2.0 * pi * frequency * L)};
      });

  TankPoint tank{};
  tank.capacitor_voltage_peak = tank_peak;
  const double susceptance = 2.0 * pi * point.frequency * d.capacitance;
  tank.capacitor_current_rms = susceptance * tank_peak / std::sqrt(2.0);
  tank.capacitor_loss = 0.5 * tank_peak * tank_peak * susceptance * d.capacitor_loss_tangent;
  tank.supply_power =
      supply_for(d, point.copper_loss + point.elsewhere_loss + point.tag_power + tank.capacitor_loss);
  tank.supply_current = tank.supply_power / d.supply_voltage;
  watch_ratings(d, tank);
  point.tank = std::move(tank);
  return point;
}

OperatingPoint operating_point(const VoltageFedSeries& d, const CoilLoad& coils,
                               const Surroundings& surroundings, const Setting& setting) {
  validate(d);
  const double C = d.capacitance, path = path_resistance(d);
  const double fundamental = 4.0 / pi * arm_amplitude(d);
  const auto lossy_capacitor = [&](double omega) {
    return std::complex<double>(d.capacitor_loss_tangent, -1.0) / (omega * C);
  };
  const auto resonant = [&](double L) { return 1.0 / (2.0 * pi * std::sqrt(L * C)); };
  const double first =
      d.frequency ? *d.frequency
                  : resonant(setting.inductance_factor * coils.inductance(1e3, surroundings.temperature));
  OperatingPoint point =
      settle(coils, surroundings, setting, first, [&](const LoadState& state, const Excitation& last) {
        double frequency = last.frequency;
        if (!d.frequency) {
          const double L = state.L + reflected(setting, last).imag() / (2.0 * pi * last.frequency);
          if (!(L > 0.0)) refuse_close_tags();
          frequency = resonant(L);
        }
        const double omega = 2.0 * pi * frequency;
        const auto own =
            std::complex<double>(state.resistance.total + path, omega * state.L) + lossy_capacitor(omega);
        return Excitation{frequency, loaded_current(fundamental, own, frequency, setting)};
      });

  const double omega = 2.0 * pi * point.frequency;
  BridgePoint bridge{};
  TankPoint tank{};
  bridge.arm_amplitude = arm_amplitude(d);
  bridge.fundamental_peak = fundamental;
  std::array<std::complex<double>, highest_harmonic + 1> difference{};
  double square_sum = 0.0, harmonic_square = 0.0, supply = 0.0;
  double capacitor_ac = 0.0, capacitor_loss = 0.0;
  for (int n = 1; n <= highest_harmonic; n += 2) {
    LoadState state{point.L, point.resistance, {}, {}};
    if (n > 1)
      state = evaluate(coils, n * point.frequency, point.copper_temperature, setting.inductance_factor);
    const auto capacitor = lossy_capacitor(n * omega);
    const double own = state.resistance.total;
    const auto Z = std::complex<double>(own + path, n * omega * state.L) + capacitor +
                   (n == 1 ? point.reflected : std::complex<double>());
    const auto current = fundamental / n / Z;
    difference[n] = current - fundamental / n / std::complex<double>(0.0, n * omega * point.L);
    const double square = 0.5 * std::norm(current);
    square_sum += square;
    supply += square * Z.real();
    capacitor_ac += std::abs(current * capacitor);
    capacitor_loss += square * capacitor.real();
    if (n == 1) {
      bridge.power_factor = Z.real() / std::abs(Z);
    } else {
      harmonic_square += square;
      bridge.harmonic_loss += square * own;
    }
    if (n == 3) bridge.third_harmonic = std::abs(current) / point.current_peak;
  }
  const BridgeWave wave(0.5 * pi * bridge.arm_amplitude / (omega * point.L), difference);
  bridge.wave_peak = wave.peak();
  bridge.wave_rms = std::sqrt(square_sum);
  bridge.distortion = std::sqrt(2.0 * harmonic_square) / point.current_peak;
  bridge.switched_current = -wave(0.0);
  bridge.switch_loss = square_sum * path;
  bridge.off_resonance = point.frequency / resonant(point.L + point.reflected.imag() / omega) - 1.0;

  tank.capacitor_voltage_peak = capacitor_ac + (d.bridge == Bridge::half ? 0.5 * d.supply_voltage : 0.0);
  tank.capacitor_current_rms = bridge.wave_rms;
  tank.capacitor_loss = capacitor_loss;
  tank.supply_power = supply;
  tank.supply_current = supply / d.supply_voltage;
  watch_ratings(d, tank);
  point.tank = std::move(tank);
  point.bridge = bridge;
  return point;
}

OperatingPoint operating_point(const GivenCurrent& d, const CoilLoad& coils, const Surroundings& surroundings,
                               const Setting& setting) {
  require_positive(d.current_peak, "coil current", "A");
  require_positive(d.frequency, "frequency", "Hz");
  return settle(coils, surroundings, setting, d.frequency, [&](const LoadState&, const Excitation&) {
    return Excitation{d.frequency, d.current_peak};
  });
}

std::vector<double> off_resonance_current(const VoltageFedSeries& driver, const CoilLoad& coils,
                                          const Surroundings& surroundings,
                                          const std::vector<double>& deviations, const Setting& setting) {
  VoltageFedSeries moved = driver;
  moved.frequency.reset();
  const auto on = operating_point(moved, coils, surroundings, setting);
  std::vector<double> ratio;
  for (const double deviation : deviations) {
    moved.frequency = on.frequency * (1.0 + deviation);
    ratio.push_back(operating_point(moved, coils, surroundings, setting).current_peak / on.current_peak);
  }
  return ratio;
}

}  // namespace driftglow::driver
