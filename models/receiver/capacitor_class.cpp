#include "models/receiver/capacitor_class.hpp"

#include <cmath>
#include <optional>
#include <string>

#include "models/constants.hpp"
#include "models/error.hpp"

namespace driftglow::receiver {
namespace {

template <class Value>
struct Entry {
  char letter;
  Value value;
};

template <class Value, std::size_t size>
std::optional<Value> find(const Entry<Value> (&table)[size], char letter) {
  for (const auto& entry : table) {
    if (entry.letter == letter) return entry.value;
  }
  return std::nullopt;
}

constexpr Entry<RelativeBounds> relative_tolerance[] = {
    {'B', {-0.001, 0.001}}, {'C', {-0.0025, 0.0025}}, {'D', {-0.005, 0.005}}, {'F', {-0.01, 0.01}},
    {'G', {-0.02, 0.02}},   {'H', {-0.03, 0.03}},     {'J', {-0.05, 0.05}},   {'K', {-0.10, 0.10}},
    {'M', {-0.20, 0.20}},   {'N', {-0.30, 0.30}},     {'Q', {-0.10, 0.30}},   {'T', {-0.10, 0.50}},
    {'S', {-0.20, 0.50}},   {'Z', {-0.20, 0.80}}};
constexpr Entry<double> absolute_tolerance[] = {
    {'B', 0.1e-12}, {'C', 0.25e-12}, {'D', 0.5e-12}, {'F', 1e-12}, {'G', 2e-12}};

constexpr Entry<double> eia_1_figure[] = {{'C', 0.0}, {'B', 0.3}, {'M', 1.0}, {'P', 1.5},
                                          {'R', 2.2}, {'S', 3.3}, {'T', 4.7}, {'U', 7.5}};
constexpr Entry<double> eia_1_multiplier[] = {{'0', -1.0}, {'1', -10.0}, {'2', -100.0}, {'3', -1000.0},
                                              {'5', 1.0},  {'6', 10.0},  {'7', 100.0},  {'8', 1000.0}};
constexpr Entry<double> eia_1_tolerance[] = {
    {'G', 30.0}, {'H', 60.0}, {'J', 120.0}, {'K', 250.0}, {'L', 500.0}};

constexpr Entry<double> eia_2_lowest[] = {{'X', -55.0}, {'Y', -30.0}, {'Z', 10.0}};
constexpr Entry<double> eia_2_highest[] = {{'4', 65.0},  {'5', 85.0},  {'6', 105.0},
                                           {'7', 125.0}, {'8', 150.0}, {'9', 200.0}};
constexpr Entry<RelativeBounds> eia_2_band[] = {
    {'A', {-0.010, 0.010}}, {'B', {-0.015, 0.015}}, {'C', {-0.022, 0.022}}, {'D', {-0.033, 0.033}},
    {'E', {-0.047, 0.047}}, {'F', {-0.075, 0.075}}, {'P', {-0.10, 0.10}},   {'R', {-0.15, 0.15}},
    {'S', {-0.22, 0.22}},   {'T', {-0.33, 0.22}},   {'U', {-0.56, 0.22}},   {'V', {-0.82, 0.22}}};

constexpr Entry<RelativeBounds> iec_band[] = {
    {'B', {-0.10, 0.10}}, {'R', {-0.15, 0.15}}, {'X', {-0.15, 0.15}}, {'C', {-0.20, 0.20}},
    {'D', {-0.30, 0.20}}, {'E', {-0.56, 0.22}}, {'F', {-0.80, 0.30}}};
// Category temperatures [degC], kept in the same pair of numbers.
constexpr Entry<RelativeBounds> iec_temperatures[] = {{'1', {-55.0, 125.0}}, {'2', {-55.0, 85.0}},
                                                      {'3', {-40.0, 85.0}},  {'4', {-25.0, 85.0}},
                                                      {'5', {-10.0, 70.0}},  {'6', {10.0, 85.0}}};

using Form = TemperatureCharacteristic::Form;

constexpr double kelvin(double celsius) {
  return celsius + constant::zero_celsius;
}

bool ceramic(Dielectric dielectric) {
  return dielectric == Dielectric::class_1_ceramic || dielectric == Dielectric::class_2_ceramic;
}

}  // namespace

RelativeBounds tolerance_of_letter(char letter, double capacitance) {
  if (!(capacitance > 0.0)) throw LogicError("capacitor: the capacitance must be positive");
  if (capacitance < 10e-12) {
    if (const auto absolute = find(absolute_tolerance, letter))
      return {-*absolute / capacitance, *absolute / capacitance};
  }
  if (const auto bounds = find(relative_tolerance, letter)) return *bounds;
  throw InputError("capacitor: '" + std::string(1, letter) +
                   "' is no tolerance letter of IEC 60062; expected e.g. J (5 %), K (10 %) or M (20 %)");
}

TemperatureCharacteristic temperature_characteristic(std::string_view code) {
  if (code.size() == 3) {
    const char second = code[1] == 'O' ? '0' : code[1];
    const auto figure = find(eia_1_figure, code[0]), multiplier = find(eia_1_multiplier, second),
               spread = find(eia_1_tolerance, code[2]);
    if (figure && multiplier && spread) {
      const double middle = *figure * *multiplier;
      return {Form::coefficient,        kelvin(-55.0), kelvin(125.0), kelvin(25.0), (middle - *spread) * 1e-6,
              (middle + *spread) * 1e-6};
    }
    const auto lowest = find(eia_2_lowest, code[0]), highest = find(eia_2_highest, code[1]);
    const auto band = find(eia_2_band, code[2]);
    if (lowest && highest && band)
      return {Form::band, kelvin(*lowest), kelvin(*highest), kelvin(25.0), band->low, band->high};
    const auto iec = find(iec_band, code[1]), temperatures = find(iec_temperatures, code[2]);
    if (code[0] == '2' && iec && temperatures)
      return {Form::band, kelvin(temperatures->low), kelvin(temperatures->high), kelvin(20.0), iec->low,
              iec->high};
  }
  throw InputError(
      "capacitor: '" + std::string(code) +
      "' is no temperature characteristic; expected an EIA-198 code such as C0G or X7R or one of "
      "IEC 60384-9 such as 2R1");
}

RelativeBounds temperature_change(const TemperatureCharacteristic& c, double temperature) {
  // Half a millikelvin: sums of 273.15 and a round number must not fall outside.
  if (!(temperature >= c.lowest - 5e-4 && temperature <= c.highest + 5e-4)) {
    const auto text = [](double t) { return std::to_string(std::lround(t - constant::zero_celsius)); };
    throw InputError("capacitor: " + text(temperature) + " degC is outside its temperatures of " +
                     text(c.lowest) + " to " + text(c.highest) + " degC");
  }
  if (c.form == Form::band) return {c.low, c.high};
  const double a = c.low * (temperature - c.reference), b = c.high * (temperature - c.reference);
  return {std::fmin(a, b), std::fmax(a, b)};
}

DielectricLoss loss_tangent(Dielectric dielectric, double frequency) {
  if (!(frequency > 0.0)) throw LogicError("capacitor: the frequency must be positive");
  // At 1, 10, 100 kHz.
  struct Row {
    double typical[3], limit[3];
  };
  const Row row = dielectric == Dielectric::class_1_ceramic ? Row{{5e-4, 5e-4, 5e-4}, {1e-3, 1e-3, 1e-3}}
                  : dielectric == Dielectric::class_2_ceramic
                      ? Row{{0.015, 0.015, 0.02}, {0.025, 0.025, 0.025}}
                  : dielectric == Dielectric::polypropylene ? Row{{3e-4, 3e-4, 5e-4}, {1e-3, 1e-3, 1e-3}}
                                                            : Row{{5e-3, 1e-2, 1.5e-2}, {1e-2, 1.5e-2, 3e-2}};
  const double place = std::fmin(2.0, std::fmax(0.0, std::log10(frequency) - 3.0));
  const int below = place < 1.0 ? 0 : 1;
  const double t = place - below;
  return {(1.0 - t) * row.typical[below] + t * row.typical[below + 1],
          (1.0 - t) * row.limit[below] + t * row.limit[below + 1]};
}

TemperatureCharacteristic film_characteristic(Dielectric dielectric) {
  if (ceramic(dielectric))
    throw InputError(
        "capacitor: a ceramic's temperature characteristic is given by its code, e.g. C0G or X7R");
  if (dielectric == Dielectric::polypropylene)
    return {Form::coefficient, kelvin(-55.0), kelvin(105.0), kelvin(20.0), -300e-6, -100e-6};
  return {Form::coefficient, kelvin(-55.0), kelvin(125.0), kelvin(20.0), 150e-6, 650e-6};
}

double biased_capacitance(const BiasLoss& loss, double dc_voltage, double ac_peak) {
  if (!(loss.rated_voltage > 0.0)) throw InputError("capacitor: the rated voltage must be positive");
  if (!(loss.remaining_at_rated > 0.0 && loss.remaining_at_rated <= 1.0))
    throw InputError("capacitor: the share that remains at rated voltage must lie above 0 and up to 1");
  // (v/V_0)^2 = (v/rated)^2 (remaining^-3 - 1).
  const double slope = std::pow(loss.remaining_at_rated, -3.0) - 1.0;
  // The integrand is smooth and periodic: the trapezoidal rule converges geometrically.
  constexpr int points = 128;
  double sum = 0.0;
  for (int i = 0; i < points; ++i) {
    const double angle = 2.0 * constant::pi * (i + 0.5) / points;
    const double v = (dc_voltage + ac_peak * std::cos(angle)) / loss.rated_voltage;
    sum += std::sin(angle) * std::sin(angle) / std::cbrt(1.0 + slope * v * v);
  }
  return 2.0 * sum / points;
}

double common_remaining_at_rated(const TemperatureCharacteristic& c) {
  if (c.form == Form::coefficient) return 1.0;
  if (c.low < -0.25) return 0.15;
  return c.highest >= kelvin(124.0) ? 0.5 : 0.35;
}

}  // namespace driftglow::receiver
