#include "sim/scenario/quantity.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <numbers>
#include <optional>

#include "models/error.hpp"

namespace driftglow::scenario {
namespace {

using D = Dimension;
constexpr double degree = std::numbers::pi / 180;

// Micro is written u, U+00B5 or U+03BC; ohm is written out or as U+03A9, U+2126.
constexpr Unit unit_table[] = {
    {"m", D::length, 0},
    {"km", D::length, 3},
    {"cm", D::length, -2},
    {"mm", D::length, -3},
    {"um", D::length, -6},
    {"\u00b5m", D::length, -6},
    {"\u03bcm", D::length, -6},
    {"m2", D::area, 0},
    {"m^2", D::area, 0},
    {"cm2", D::area, -4},
    {"cm^2", D::area, -4},
    {"mm2", D::area, -6},
    {"mm^2", D::area, -6},
    {"m3", D::volume, 0},
    {"m^3", D::volume, 0},
    {"L", D::volume, -3},
    {"l", D::volume, -3},
    {"ml", D::volume, -6},
    {"mL", D::volume, -6},
    {"cm3", D::volume, -6},
    {"cm^3", D::volume, -6},
    {"mm3", D::volume, -9},
    {"mm^3", D::volume, -9},
    {"kg", D::mass, 0},
    {"g", D::mass, -3},
    {"mg", D::mass, -6},
    {"ug", D::mass, -9},
    {"\u00b5g", D::mass, -9},
    {"\u03bcg", D::mass, -9},
    {"s", D::time, 0},
    {"ms", D::time, -3},
    {"us", D::time, -6},
    {"\u00b5s", D::time, -6},
    {"\u03bcs", D::time, -6},
    {"min", D::time, 0, 60},
    {"h", D::time, 0, 3600},
    {"Hz", D::frequency, 0},
    {"kHz", D::frequency, 3},
    {"MHz", D::frequency, 6},
    {"deg", D::angle, 0, degree},
    {"\u00b0", D::angle, 0, degree},
    {"rad", D::angle, 0},
    {"rpm", D::rotation_speed, 0, 2 * std::numbers::pi / 60},
    {"rad/s", D::rotation_speed, 0},
    {"degC", D::temperature, 0, 1, 273.15},
    {"\u00b0C", D::temperature, 0, 1, 273.15},
    {"K", D::temperature, 0},
    {"Pa", D::pressure, 0},
    {"hPa", D::pressure, 2},
    {"kPa", D::pressure, 3},
    {"mbar", D::pressure, 2},
    {"bar", D::pressure, 5},
    {"m/s", D::speed, 0},
    {"cm/s", D::speed, -2},
    {"mm/s", D::speed, -3},
    {"m2/s2", D::specific_energy, 0},
    {"m^2/s^2", D::specific_energy, 0},
    {"J/kg", D::specific_energy, 0},
    {"m3/s", D::volume_flow, 0},
    {"m^3/s", D::volume_flow, 0},
    {"m3/h", D::volume_flow, 0, 1. / 3600},
    {"m^3/h", D::volume_flow, 0, 1. / 3600},
    {"L/s", D::volume_flow, -3},
    {"l/s", D::volume_flow, -3},
    {"L/min", D::volume_flow, -3, 1. / 60},
    {"l/min", D::volume_flow, -3, 1. / 60},
    {"T", D::flux_density, 0},
    {"mT", D::flux_density, -3},
    {"uT", D::flux_density, -6},
    {"\u00b5T", D::flux_density, -6},
    {"\u03bcT", D::flux_density, -6},
    {"nT", D::flux_density, -9},
    {"A", D::current, 0},
    {"mA", D::current, -3},
    {"uA", D::current, -6},
    {"\u00b5A", D::current, -6},
    {"\u03bcA", D::current, -6},
    {"nA", D::current, -9},
    {"pA", D::current, -12},
    {"V", D::voltage, 0},
    {"kV", D::voltage, 3},
    {"mV", D::voltage, -3},
    {"uV", D::voltage, -6},
    {"\u00b5V", D::voltage, -6},
    {"\u03bcV", D::voltage, -6},
    {"ohm", D::resistance, 0},
    {"\u03a9", D::resistance, 0},
    {"\u2126", D::resistance, 0},
    {"mohm", D::resistance, -3},
    {"m\u03a9", D::resistance, -3},
    {"m\u2126", D::resistance, -3},
    {"kohm", D::resistance, 3},
    {"k\u03a9", D::resistance, 3},
    {"k\u2126", D::resistance, 3},
    {"H", D::inductance, 0},
    {"mH", D::inductance, -3},
    {"uH", D::inductance, -6},
    {"\u00b5H", D::inductance, -6},
    {"\u03bcH", D::inductance, -6},
    {"nH", D::inductance, -9},
    {"F", D::capacitance, 0},
    {"mF", D::capacitance, -3},
    {"uF", D::capacitance, -6},
    {"\u00b5F", D::capacitance, -6},
    {"\u03bcF", D::capacitance, -6},
    {"nF", D::capacitance, -9},
    {"pF", D::capacitance, -12},
    {"W", D::power, 0},
    {"kW", D::power, 3},
    {"mW", D::power, -3},
    {"uW", D::power, -6},
    {"\u00b5W", D::power, -6},
    {"\u03bcW", D::power, -6},
    {"cd", D::luminous_intensity, 0},
    {"mcd", D::luminous_intensity, -3},
    {"ucd", D::luminous_intensity, -6},
    {"\u00b5cd", D::luminous_intensity, -6},
    {"\u03bccd", D::luminous_intensity, -6},
    {"lx", D::illuminance, 0},
    {"mlx", D::illuminance, -3},
    {"ulx", D::illuminance, -6},
    {"\u00b5lx", D::illuminance, -6},
    {"\u03bclx", D::illuminance, -6},
};

bool is_digit(char c) {
  return c >= '0' && c <= '9';
}

std::string_view digits_at(std::string_view text) {
  const auto end = std::find_if_not(text.begin(), text.end(), is_digit);
  return text.substr(0, std::size_t(end - text.begin()));
}

// What a text starts with, read as a number by the grammar; the rest is a unit or a fault.
struct Leading {
  std::string mantissa;  // sign and digits without exponent, as from_chars takes them
  int exponent = 0;
  std::string_view rest;
};

std::variant<Leading, Unreadable> leading_number(std::string_view text) {
  Leading result;
  std::string_view rest = text;
  if (rest.starts_with('-')) result.mantissa = "-";
  if (rest.starts_with('-') || rest.starts_with('+')) rest.remove_prefix(1);
  const std::string_view whole = digits_at(rest);
  if (whole.empty()) {
    std::string word(rest.substr(0, 4));
    std::transform(word.begin(), word.end(), word.begin(),
                   [](char c) { return c >= 'A' && c <= 'Z' ? char(c - 'A' + 'a') : c; });
    if (word == ".nan" || word.starts_with("nan") || word == ".inf" || word.starts_with("inf"))
      return Unreadable{"is not a finite number"};
    return Unreadable{"is not a number"};
  }
  rest.remove_prefix(whole.size());
  if (whole == "0" && (rest.starts_with('x') || rest.starts_with('X'))) return Unreadable{"is hexadecimal"};
  if (whole.size() > 1 && whole.front() == '0')
    return Unreadable{"starts with a 0, which some programs read as octal"};
  result.mantissa += whole;
  if (rest.starts_with('.')) {
    const std::string_view part = digits_at(rest.substr(1));
    if (part.empty()) return Unreadable{"has no digit after its decimal point"};
    result.mantissa += '.';
    result.mantissa += part;
    rest.remove_prefix(1 + part.size());
  } else if (rest.starts_with(',') && rest.size() > 1 && is_digit(rest[1])) {
    return Unreadable{"has a comma where a decimal point should be"};
  }
  if (rest.starts_with('e') || rest.starts_with('E')) {
    std::string_view power = rest.substr(1);
    const bool negative = power.starts_with('-');
    if (negative || power.starts_with('+')) power.remove_prefix(1);
    const std::string_view digits = digits_at(power);
    if (!digits.empty()) {
      if (std::from_chars(digits.data(), digits.data() + digits.size(), result.exponent).ec != std::errc() ||
          result.exponent > 400)
        return Unreadable{"is beyond what a number can hold"};
      if (negative) result.exponent = -result.exponent;
      rest = power.substr(digits.size());
    }
  }
  result.rest = rest;
  return result;
}

std::variant<double, Unreadable> number_with_power(const Leading& leading, int extra_exponent) {
  const std::string literal = leading.mantissa + "e" + std::to_string(leading.exponent + extra_exponent);
  double value = 0;
  const auto [end, error] = std::from_chars(literal.data(), literal.data() + literal.size(), value);
  if (error != std::errc() || end != literal.data() + literal.size() || !std::isfinite(value))
    return Unreadable{"is beyond what a number can hold"};
  return value;
}

std::string_view without_leading_spaces(std::string_view text) {
  const auto first = text.find_first_not_of(' ');
  return first == std::string_view::npos ? std::string_view() : text.substr(first);
}

const Unit* find_unit(std::string_view symbol) {
  const auto found = std::find_if(std::begin(unit_table), std::end(unit_table),
                                  [&](const Unit& u) { return u.symbol == symbol; });
  return found == std::end(unit_table) ? nullptr : found;
}

}  // namespace

const DimensionInfo& info(Dimension dimension) {
  static constexpr DimensionInfo table[] = {
      {"a length", "0.2 mm"},
      {"an area", "12 cm2"},
      {"a volume", "14 cm3"},
      {"a mass", "9 g"},
      {"a time", "20 ms"},
      {"a frequency", "118 kHz"},
      {"an angle", "90 deg"},
      {"a speed of rotation", "1200 rpm"},
      {"a temperature", "21 degC"},
      {"a pressure", "60 Pa"},
      {"a speed", "0.4 m/s"},
      {"a kinetic energy per mass", "0.01 m2/s2"},
      {"a volume flow", "0.07 m3/s"},
      {"a flux density", "40 uT"},
      {"a current", "0.2 mA"},
      {"a voltage", "24 V"},
      {"a resistance", "3.1 ohm"},
      {"an inductance", "39 uH"},
      {"a capacitance", "47 nF"},
      {"a power", "20 mW"},
      {"a luminous intensity", "150 mcd"},
      {"an illuminance", "2e-6 lx"},
  };
  static_assert(std::size(table) == std::size_t(Dimension::illuminance) + 1);
  return table[std::size_t(dimension)];
}

std::span<const Unit> units() {
  return unit_table;
}

std::variant<double, Unreadable> parse_number(std::string_view text) {
  const auto leading = leading_number(text);
  if (const auto* fault = std::get_if<Unreadable>(&leading)) return *fault;
  const auto& number = std::get<Leading>(leading);
  if (number.rest.empty()) return number_with_power(number, 0);
  const std::string_view rest = without_leading_spaces(number.rest);
  if (rest == "%" || find_unit(rest)) return Unreadable{"has a unit"};
  return Unreadable{"is not a number"};
}

std::variant<std::uint64_t, Unreadable> parse_count(std::string_view text) {
  const auto number = parse_number(text);
  if (const auto* fault = std::get_if<Unreadable>(&number)) return *fault;
  if (text.starts_with('-')) return Unreadable{"is negative"};
  if (text.starts_with('+')) text.remove_prefix(1);
  if (digits_at(text).size() != text.size()) return Unreadable{"is not a whole number"};
  std::uint64_t count = 0;
  if (std::from_chars(text.data(), text.data() + text.size(), count).ec != std::errc())
    return Unreadable{"is beyond what a number can hold"};
  return count;
}

std::variant<double, Unreadable> parse_fraction(std::string_view text) {
  const auto leading = leading_number(text);
  if (const auto* fault = std::get_if<Unreadable>(&leading)) return *fault;
  const auto& number = std::get<Leading>(leading);
  if (without_leading_spaces(number.rest) == "%") return number_with_power(number, -2);
  return parse_number(text);
}

std::variant<double, Unreadable> parse_quantity(std::string_view text, Dimension dimension) {
  const auto leading = leading_number(text);
  if (const auto* fault = std::get_if<Unreadable>(&leading)) return *fault;
  const auto& number = std::get<Leading>(leading);
  const std::string_view symbol = without_leading_spaces(number.rest);
  if (symbol.empty()) return Unreadable{"has no unit"};
  if (symbol == "%") return Unreadable{"is a share"};
  const Unit* unit = find_unit(symbol);
  if (!unit) return Unreadable{"has a unit that is not known here"};
  if (unit->dimension != dimension) return Unreadable{"is " + std::string(info(unit->dimension).noun)};
  const auto value = number_with_power(number, unit->exponent);
  if (const auto* fault = std::get_if<Unreadable>(&value)) return *fault;
  return std::get<double>(value) * unit->factor + unit->offset;
}

}  // namespace driftglow::scenario
