#include "sim/sheet/quantity_text.hpp"

#include <doctest/doctest.h>

#include <limits>

using namespace driftglow::sheet;

// Prefixes of the SI brochure, 9th edition, table 7.
TEST_CASE("values carry their SI prefix and three digits") {
  CHECK(with_prefix(9.139e-5, "H") == "91.4 uH");
  CHECK(with_prefix(117720.0, "Hz") == "118 kHz");
  CHECK(with_prefix(0.61846, "A") == "618 mA");
  CHECK(with_prefix(1.0, "m") == "1.00 m");
  CHECK(with_prefix(0.9999, "m") == "1.00 m");
  CHECK(with_prefix(-2e-9, "F") == "-2.00 nF");
  CHECK(with_prefix(0.0, "V") == "0 V");
  CHECK(with_prefix(std::numeric_limits<double>::infinity(), "V") == "infinite V");
  CHECK(percent(0.5321) == "53 %");
  CHECK(percent(0.0123) == "1.2 %");
}
