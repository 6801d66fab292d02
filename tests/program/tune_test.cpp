#include <doctest/doctest.h>

#include <cmath>

#include "tests/program/run.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::program_test;

namespace {

// A tag held where the field turns its lit share on and off is exact and quick: threshold on |B.n|, axis
// uniform.
const std::string uniform =
    "# mine\n"
    "vessel: {inner_diameter: 190 mm, height: 320 mm}\n"
    "drive: {field: {flux_density: 40 uT, frequency: 118 kHz}}  # read off\n"
    "tags:\n"
    "  - name: probe\n"
    "    count: 4\n"
    "    receiver: {threshold_flux_density: 18 uT}\n"
    "    hold: {place: [0 mm, 0 mm, 160 mm], axis: uniform}\n"
    "flight: {duration: 40 s, warmup: 0 s, replicates: 64, seed: 3}\n";

const std::string readings =
    "unknowns:\n"
    "  - {key: drive.field.flux_density, tolerance: 10 %}\n"
    "readings:\n"
    "  - {name: duty, duty: 52 %, uncertainty: 1 %}\n";

}  // namespace

// Share of directions lit: 1 - B_on/B (the field's cosine is uniform), so B = 18 uT/(1 - duty) and the duty's
// slope is B_on/B^2.
TEST_CASE("a duty on video tunes the field, and the flight carries what is left open") {
  const Folder folder;
  write(folder / "s.yaml", uniform);
  write(folder / "r.yaml", readings);
  const auto ran = run(folder, "tune s.yaml r.yaml --out out --quiet --json");
  CAPTURE(ran.err);
  REQUIRE(ran.status == 0);
  const auto found = nlohmann::json::parse(ran.out);
  const double prior = 4.0 / std::sqrt(3.0), slope = 18.0 / (40.0 * 40.0);
  const double sigma = 0.01 / slope;
  const double left = 1.0 / std::sqrt(1.0 / (prior * prior) + 1.0 / (sigma * sigma));
  const double mean = 40.0 + left * left / (sigma * sigma) * (0.52 - 0.55) / slope;
  const auto& field = found["unknowns"][0];
  // The duty bends over the prior's width: the slope there is 10 % off its middle's.
  CHECK(field["standard_deviation"].get<double>() == relative(left, 0.12));
  CHECK(std::fabs(field["after"].get<double>() - mean) < 0.4 * left);
  CHECK(field["constrained"].get<bool>());
  CHECK(read(folder / "out/tune.html").find("</html>") != std::string::npos);

  const auto tuned = read(folder / "out/s_tuned.yaml");
  CHECK(tuned.starts_with("# mine\n"));
  CHECK(tuned.find(" uT, frequency: 118 kHz}}  # read off\n") != std::string::npos);
  const auto flown = run(folder, "fly out/s_tuned.yaml --out flown --quiet");
  REQUIRE(flown.status == 0);
  CHECK(flown.out.find("parameter +- ") != std::string::npos);
  const auto summary = nlohmann::json::parse(read(folder / "flown/summary.json"));
  const auto& fit = summary["tag_designs"][0]["fits"][0];
  const double B = field["after"].get<double>(), deviation = field["standard_deviation"].get<double>();
  const double expected = 1.959964 * 18.0 / (B * B) * deviation;
  // Flights of 64 x 4 tags with common random numbers know the difference to some per cent.
  CHECK(fit["duty_parameter_half_width_95"].get<double>() == relative(expected, 0.08));
  CHECK(fit["duty_total_half_width_95"].get<double>() ==
        relative(std::hypot(expected, fit["duty"]["half_width_95"].get<double>()), 0.08));
  CHECK(read(folder / "flown/report.html").find("statistical") != std::string::npos);
  CHECK(read(folder / "flown/summary.csv").find(",duty_parameter_half_width_95,duty_total_half_width_95\n") !=
        std::string::npos);
  // The report is made again from flight.h5 alone.
  const auto html = read(folder / "flown/report.html");
  REQUIRE(run(folder, "show flown --out shown --quiet").status == 0);
  CHECK(read(folder / "shown/report.html") == html);

  const auto again = run(folder, "tune out/s_tuned.yaml r.yaml --out no --quiet");
  CHECK(again.status == 2);
  CHECK(again.err.find("was tuned by `r.yaml` already") != std::string::npos);
  write(folder / "moved.yaml", with(tuned, "flux_density: ", "flux_density: 1"));
  const auto moved = run(folder, "fly moved.yaml --out no --quiet");
  CHECK(moved.status == 2);
  CHECK(moved.err.find("was tuned to") != std::string::npos);
}

TEST_CASE(
    "tuning is the same at any thread count, and the untuned flight's files say nothing of parameters") {
  const Folder folder;
  write(folder / "s.yaml", uniform);
  write(folder / "r.yaml", readings);
  const auto one = run(folder, "tune s.yaml r.yaml --out a --quiet --json --threads 1");
  const auto seven = run(folder, "tune s.yaml r.yaml --out b --quiet --json --threads 7");
  CHECK(one.out == seven.out);
  CHECK(read(folder / "a/tune.html") == read(folder / "b/tune.html"));
  CHECK(read(folder / "a/s_tuned.yaml") == read(folder / "b/s_tuned.yaml"));
  REQUIRE(run(folder, "fly s.yaml --out c --quiet").status == 0);
  CHECK(read(folder / "c/summary.json").find("parameter") == std::string::npos);
}
