#include "sim/scenario/quantity.hpp"

#include <doctest/doctest.h>

#include <clocale>
#include <numbers>

#include "tests/relative.hpp"

using namespace driftglow::scenario;

namespace {

double value(std::string_view text, Dimension dimension) {
  const auto parsed = parse_quantity(text, dimension);
  INFO(text);
  REQUIRE(std::holds_alternative<double>(parsed));
  return std::get<double>(parsed);
}

std::string fault(std::string_view text, Dimension dimension) {
  const auto parsed = parse_quantity(text, dimension);
  return std::holds_alternative<double>(parsed) ? "none" : std::get<Unreadable>(parsed).reason;
}

}  // namespace

TEST_CASE("quantities are the double that the same decimal number in SI is") {
  CHECK(value("118 kHz", Dimension::frequency) == 118e3);
  CHECK(value("0.2 mm", Dimension::length) == 0.2e-3);
  CHECK(value("0.2mm", Dimension::length) == 0.2e-3);
  CHECK(value("9 g", Dimension::mass) == 9e-3);
  CHECK(value("40 uT", Dimension::flux_density) == 40e-6);
  CHECK(value("40 \u00b5T", Dimension::flux_density) == 40e-6);
  CHECK(value("40 \u03bcT", Dimension::flux_density) == 40e-6);
  CHECK(value("-1.5e1 mm", Dimension::length) == -15e-3);
  CHECK(value("+2e-6 lx", Dimension::illuminance) == 2e-6);
  CHECK(value("60 mbar", Dimension::pressure) == 6000);
  CHECK(value("3.1 m\u2126", Dimension::resistance) == 3.1e-3);
  CHECK(value("0.07 m^3/s", Dimension::volume_flow) == 0.07);
}

TEST_CASE("units that are no power of ten") {
  // SI brochure, 9th edition: Celsius = K - 273.15, min, h, L, degree.
  CHECK(value("21 degC", Dimension::temperature) == relative(294.15, 1e-15));
  CHECK(value("21 \u00b0C", Dimension::temperature) == value("21 degC", Dimension::temperature));
  CHECK(value("2 min", Dimension::time) == 120);
  CHECK(value("90 deg", Dimension::angle) == relative(std::numbers::pi / 2, 1e-15));
  CHECK(value("252 m3/h", Dimension::volume_flow) == relative(0.07, 1e-15));
  CHECK(value("70 L/s", Dimension::volume_flow) == 0.07);
  CHECK(value("60 rpm", Dimension::rotation_speed) == relative(2 * std::numbers::pi, 1e-15));
}

TEST_CASE("what is wrong with a quantity is named") {
  CHECK(fault("0.2", Dimension::length) == "has no unit");
  CHECK(fault("5 ms", Dimension::length) == "is a time");
  CHECK(fault("5 furlong", Dimension::length) == "has a unit that is not known here");
  CHECK(fault("5 MM", Dimension::length) == "has a unit that is not known here");
  CHECK(fault("5 %", Dimension::length) == "is a share");
  CHECK(fault("0,2 mm", Dimension::length) == "has a comma where a decimal point should be");
  CHECK(fault("010 mm", Dimension::length) == "starts with a 0, which some programs read as octal");
  CHECK(fault("0x10 mm", Dimension::length) == "is hexadecimal");
  CHECK(fault(".inf", Dimension::length) == "is not a finite number");
  CHECK(fault("NaN m", Dimension::length) == "is not a finite number");
  CHECK(fault("1e999 m", Dimension::length) == "is beyond what a number can hold");
  CHECK(fault("1. mm", Dimension::length) == "has no digit after its decimal point");
  CHECK(fault("wide", Dimension::length) == "is not a number");
  CHECK(fault("", Dimension::length) == "is not a number");
  CHECK(fault("1 mm 2", Dimension::length) == "has a unit that is not known here");
  CHECK(fault("- 1 mm", Dimension::length) == "is not a number");
}

TEST_CASE("pure numbers, counts and shares") {
  CHECK(std::get<double>(parse_number("10.5")) == 10.5);
  CHECK(std::get<Unreadable>(parse_number("10 mm")).reason == "has a unit");
  CHECK(std::get<Unreadable>(parse_number("10 %")).reason == "has a unit");
  CHECK(std::get<double>(parse_fraction("5 %")) == 0.05);
  CHECK(std::get<double>(parse_fraction("5%")) == 0.05);
  CHECK(std::get<double>(parse_fraction("0.05")) == 0.05);
  CHECK(std::get<std::uint64_t>(parse_count("18446744073709551615")) == 18446744073709551615U);
  CHECK(std::get<Unreadable>(parse_count("18446744073709551616")).reason ==
        "is beyond what a number can hold");
  CHECK(std::get<Unreadable>(parse_count("1.5")).reason == "is not a whole number");
  CHECK(std::get<Unreadable>(parse_count("1e3")).reason == "is not a whole number");
  CHECK(std::get<Unreadable>(parse_count("-1")).reason == "is negative");
}

TEST_CASE("no unit is listed twice, and every dimension has one and an example that reads") {
  for (const Unit& unit : units()) {
    int uses = 0;
    for (const Unit& other : units()) uses += other.symbol == unit.symbol;
    CAPTURE(unit.symbol);
    CHECK(uses == 1);
  }
  for (int i = 0; i <= int(Dimension::illuminance); ++i)
    CHECK(fault(info(Dimension(i)).example, Dimension(i)) == "none");
}

TEST_CASE("a locale with a decimal comma changes nothing") {
  if (!std::setlocale(LC_ALL, "de_DE.UTF-8")) MESSAGE("locale de_DE.UTF-8 is not installed");
  CHECK(value("0.2 mm", Dimension::length) == 0.2e-3);
  std::setlocale(LC_ALL, "C");
}
