#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <variant>

// Numbers and physical values as text. Numbers are decimal, with a point, in every locale.
namespace driftglow::scenario {

enum class Dimension {
  length,
  area,
  volume,
  mass,
  time,
  frequency,
  angle,
  rotation_speed,
  temperature,
  pressure,
  speed,
  specific_energy,
  volume_flow,
  flux_density,
  current,
  voltage,
  resistance,
  inductance,
  capacitance,
  power,
  luminous_intensity,
  illuminance,
};

struct DimensionInfo {
  std::string_view noun;     // "a length"
  std::string_view example;  // "0.2 mm"
};
const DimensionInfo& info(Dimension dimension);

struct Unit {
  std::string_view symbol;
  Dimension dimension;
  int exponent;       // SI value = number * 10^exponent * factor + offset
  double factor = 1;  // what is not a power of ten
  double offset = 0;
};

// Every unit in every accepted spelling.
std::span<const Unit> units();

// What a text says is wrong with it, as the middle of a sentence: "has no unit", "is hexadecimal".
struct Unreadable {
  std::string reason;
};

// A decimal number, JSON's grammar with an optional plus sign. Finite.
std::variant<double, Unreadable> parse_number(std::string_view text);

// A whole number 0 to 2^64 - 1 without point or exponent; `+` allowed.
std::variant<std::uint64_t, Unreadable> parse_count(std::string_view text);

// A plain number or a percentage; `5 %` and `0.05` are the same double.
std::variant<double, Unreadable> parse_fraction(std::string_view text);

// A physical value in SI; the power of ten of the unit joins that of the number before rounding, so `0.2 mm`
// is the double 0.2e-3.
std::variant<double, Unreadable> parse_quantity(std::string_view text, Dimension dimension);

}  // namespace driftglow::scenario
