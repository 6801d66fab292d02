#include "sim/library/wire.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/error.hpp"
#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;

TEST_CASE("gauge diameters are ASTM B258's") {
  const Outside outside("ASTM B258");
  // Table 1 of ASTM B258, inches to the printed digits [memory].
  struct Row {
    int gauge;
    double inch;
  };
  for (const Row row : {Row{0, 0.3249},
                        {4, 0.2043},
                        {10, 0.1019},
                        {18, 0.0403},
                        {24, 0.0201},
                        {30, 0.0100},
                        {36, 0.0050},
                        {40, 0.0031}}) {
    CAPTURE(row.gauge);
    outside.near("gauge diameters [in]", library::gauge_diameter(row.gauge) / 0.0254, row.inch,
                 0.5e-4);  // the printed digits
  }
  // The second route: the standard defines 0.4600 inch for 4/0 (gauge -3) and 0.0050 inch for 36, 39 even
  // ratios apart.
  const double ratio = std::pow(0.4600 / 0.0050, 1. / 39);
  outside.matches("ratio of neighbouring gauges", library::gauge_diameter(20) / library::gauge_diameter(21),
                  ratio, 1e-12);
  CHECK_THROWS_AS(library::gauge_diameter(-1), LogicError);
  CHECK_THROWS_AS(library::gauge_diameter(57), LogicError);
}

TEST_CASE("enamelled diameters rise, with a build that grows slower than the wire") {
  const auto& table = library::enamelled_diameter_table();
  REQUIRE(table.size() == 50);
  for (std::size_t i = 0; i < table.size(); ++i) {
    const auto [bare, overall] = table[i];
    CAPTURE(bare);
    CHECK(overall > bare * 1.01);
    CHECK(overall < bare * 1.25);
    if (i == 0) continue;
    CHECK(bare > table[i - 1].first);
    CHECK(overall - bare >= table[i - 1].second - table[i - 1].first - 1e-9);
    CHECK(overall / bare <= table[i - 1].second / table[i - 1].first + 1e-6 / bare);  // printed to 1 um
  }
}

TEST_CASE("bare diameters of the table are the R20 series of ISO 3") {
  const Outside outside("ISO 3, series R20");
  // R20: 10^(k/20); its rounded numbers stray by at most 1.3 % (ISO 3), printed to 1 um: up to 2 % below 50
  // um.
  for (const auto& [bare, overall] : library::enamelled_diameter_table()) {
    const double k = 20 * std::log10(bare * 1e3);
    const double exact = std::pow(10., std::round(k) / 20) * 1e-3;
    CAPTURE(bare);
    outside.matches("bare wire diameters [m]", bare, exact, bare < 50e-6 ? 0.03 : 0.014);
  }
}

TEST_CASE("enamelled diameters agree with the American single build") {
  const Outside outside("American single build");
  // Second route: NEMA MW 1000, single build, largest overall diameter in inches [memory]. Its film is
  // another one, so only the size of the build is held: 6 % of the overall diameter.
  struct Row {
    int gauge;
    double inch;
  };
  for (const Row row :
       {Row{20, 0.0346}, {24, 0.0223}, {26, 0.0178}, {30, 0.0113}, {32, 0.0091}, {36, 0.0060}}) {
    CAPTURE(row.gauge);
    outside.matches("enamelled diameters [m]",
                    library::enamelled_diameter(library::gauge_diameter(row.gauge)), row.inch * 0.0254, 0.06);
  }
}

TEST_CASE("between and beyond the table's diameters") {
  CHECK(library::enamelled_diameter(0.2e-3) == relative(0.226e-3, 1e-12));
  CHECK(library::enamelled_diameter(0.212e-3) == relative(0.239e-3, 1e-12));  // half way to 0.224
  CHECK(library::enamelled_diameter(0.009e-3) == relative(0.011e-3, 1e-12));
  CHECK(library::enamelled_diameter(10e-3) == relative(10.186e-3, 1e-12));
  CHECK_THROWS_AS(library::enamelled_diameter(0), LogicError);
  CHECK_THROWS_AS(library::enamelled_diameter(std::nan("")), LogicError);
}
