#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <numbers>

#include "sim/store/hdf5_file.hpp"
#include "tests/air/designs.hpp"
#include "tests/outside.hpp"
#include "tests/program/recorded.hpp"
#include "tests/program/run.hpp"

// Exact answers, through the finished program: a scenario goes in, summary.json or flight.h5 comes out.
using namespace driftglow;
using namespace driftglow::program_test;

namespace {

nlohmann::json duty(const nlohmann::json& summary, int design, int fit = 0) {
  return summary["tag_designs"][design]["fits"][fit]["duty"];
}

// Within four standard errors of the exact duty, and the 95 % interval at most +-0.2 %. A threshold or a
// field wrong by 1 % moves the duties here by 0.2 to 0.45 %, more than ten standard errors.
void check_duty(const Outside& outside, const std::string& quantity, const nlohmann::json& got,
                double exact) {
  outside.near(quantity, got["mean"].get<double>(), exact, 4.0 * got["standard_error"].get<double>());
  CHECK(got["half_width_95"].get<double>() <= 0.002);
  CHECK(got["standard_error"].get<double>() > 0.0);
}

const char* still_air_head = R"(
drive: {field: {flux_density: 40 uT, frequency: 118 kHz}}
)";

}  // namespace

// Share of directions with |cos| >= x is 1 - x.
TEST_CASE("a uniform field: duty = 1 - B_on/B") {
  const Folder folder;
  check_duty(Outside("closed form 1 - B_on/B, model.md section 7.1"), "duty in a uniform field",
             duty(fly(folder, read(config("check_uniform_field.yaml"))), 0), 1.0 - 18.0 / 40.0);
}

// Two fields in quadrature give B sqrt(1 - n_y^2), and n_y is even in [-1, 1] over the sphere.
TEST_CASE("two fields in quadrature: duty = sqrt(1 - (B_on/B)^2)") {
  const Folder folder;
  const auto text = with(read(config("check_uniform_field.yaml")), "axis: [0, 0, 1],",
                         "axis: [0, 0, 2], quadrature_axis: [1, 0, 0],");
  check_duty(Outside("closed form sqrt(1 - (B_on/B)^2), model.md section 7.2"),
             "duty in two fields in quadrature", duty(fly(folder, text), 0),
             std::sqrt(1.0 - std::pow(18.0 / 40.0, 2)));
}

// The same from readings of the uniform field on a grid, with a gain that the factor takes back.
TEST_CASE("a measured field: duty = 1 - B_on/B and sqrt(1 - (B_on/B)^2)") {
  const Folder folder;
  std::string still = "x [mm], y [mm], z [mm], B_x [uT], B_y [uT], B_z [uT]", turning = still;
  turning += ", B_x_later [uT], B_y_later [uT], B_z_later [uT]\n";
  still += "\n";
  for (int node = 0; node < 64; ++node) {
    const std::string row = fmt::format("{}, {}, {}, 0, 0, 20", 65 * (node / 16) - 97.5,
                                        65 * (node / 4 % 4) - 97.5, 110 * (node % 4) - 5);
    still += row + "\n";
    turning += row + ", 20, 0, 0\n";
  }
  write(folder / "still.csv", still);
  write(folder / "turning.csv", turning);
  const auto uniform = read(config("check_uniform_field.yaml"));
  const auto measured = [&](const std::string& file) {
    return with(with(uniform, "flux_density: 40 uT", "file: " + file + ", factor: 2"), "axis: [0, 0, 1], ",
                "");
  };
  check_duty(Outside("closed form 1 - B_on/B, model.md section 7.1"), "duty in a measured uniform field",
             duty(fly(folder, measured("still.csv")), 0), 1.0 - 18.0 / 40.0);
  check_duty(Outside("closed form sqrt(1 - (B_on/B)^2), model.md section 7.2"),
             "duty in a measured turning field", duty(fly(folder, measured("turning.csv")), 0),
             std::sqrt(1.0 - std::pow(18.0 / 40.0, 2)));
  const auto sheet = run(folder, "sheet scenario.yaml");
  CHECK(sheet.out.find("not known outside") != std::string::npos);
  CHECK(sheet.out.find("64 nodes; the nearest magnetic field misses them by 0.0") != std::string::npos);
}

// The circuit of model.md 8: centre 37.08 uT peak, B_on 18.38 uT (yellow-green) and 26.66 uT (warm white),
// thresholds that the receiver's tests hold against time integration. Axes 2 % of B to either side of each
// threshold must be on and off without exception.
TEST_CASE("a tag held still is on or off as the circuit says") {
  const Outside outside("the circuit of model.md section 8");
  const Folder folder;
  auto text = read(config("check_still_tag.yaml"));
  const auto summary = fly(folder, text);
  const int expected[3][2] = {{1, 1}, {1, 0}, {0, 0}};
  for (int d = 0; d < 3; ++d) {
    for (int f = 0; f < 2; ++f)
      outside.near("duty of a tag held still", duty(summary, d, f)["mean"].get<double>(), expected[d][f],
                   0.0);
  }
  const double share[4] = {18.38 / 37.08 + 0.02, 18.38 / 37.08 - 0.02, 26.66 / 37.08 + 0.02,
                           26.66 / 37.08 - 0.02};
  const int on[4][2] = {{1, 0}, {0, 0}, {1, 1}, {1, 0}};
  for (int i = 0; i < 4; ++i) {
    const auto tilted =
        with(text, "axis: [0, 0, 1]}",
             fmt::format("axis: [{}, 0, {}]}}", std::sqrt(1.0 - share[i] * share[i]), share[i]));
    const auto got = fly(folder, tilted);
    for (int f = 0; f < 2; ++f)
      outside.near("duty of a tag held still", duty(got, 0, f)["mean"].get<double>(), on[i][f], 0.0);
  }
}

// Taylor 1921: <x^2> = 2 sigma^2 T^2 (t/T - 1 + e^{-t/T}). Still air with k = 0.02 m2/s2 and l = 50 mm: sigma
// = sqrt(2k/3), T = 0.2 k/epsilon. Tracers that begin more than 1 m (six deviations) from every wall;
// limit 4.5 standard errors, under 6 %, while T wrong by 10 % moves the last value by 8 %.
TEST_CASE("tracers in uniform turbulence spread as Taylor says") {
  const Outside outside("Taylor 1921, 4.5 standard errors");
  const Folder folder;
  fly(folder, std::string(still_air_head) + R"(
vessel: {inner_diameter: 10 m, height: 10 m}
air: {flow_rate: 0 m3/s, turbulence: {intensity: 0, floor: 0.02 m2/s2, length_scale: 50 mm}}
tags:
  - {name: tracer, count: 1100, body: {kind: tracer}, receiver: {threshold_flux_density: 18 uT}}
flight: {duration: 3 s, warmup: 0 s, replicates: 8, seed: 5, trace: {replicates: 8, interval: 0.25 s}}
)");
  const double k = 0.02, sigma2 = 2.0 * k / 3.0, T = 0.2 * 0.05 / (std::pow(0.09, 0.75) * std::sqrt(k));
  const std::size_t samples = recorded(folder, 0).time.size();
  std::vector<double> square(samples, 0.0);
  int count = 0;
  for (int replicate = 0; replicate < 8; ++replicate) {
    const auto flown = recorded(folder, replicate);
    for (std::size_t tag = 0; tag < flown.tags; ++tag) {
      const double* start = flown.at(flown.place, 0, tag);
      if (std::hypot(start[0], start[1]) > 4.0 || std::fabs(start[2] - 5.0) > 4.0) continue;
      count += 3;
      for (std::size_t j = 0; j < samples; ++j) {
        const double* p = flown.at(flown.place, j, tag);
        for (int c = 0; c < 3; ++c) square[j] += (p[c] - start[c]) * (p[c] - start[c]);
      }
    }
  }
  REQUIRE(count > 12000);
  const double limit = 4.5 * std::sqrt(2.0 / count);
  CHECK(limit < 0.06);
  for (const std::size_t j : {std::size_t{1}, std::size_t{4}, samples - 1}) {
    const double t = 0.25 * static_cast<double>(j);
    const double exact = 2.0 * sigma2 * T * T * (t / T - 1.0 + std::exp(-t / T));
    outside.matches("mean square displacement of tracers over Taylor's", square[j] / count / exact, 1.0,
                    limit);
  }
}

// A turning flow without through-flow, whose turbulence varies several-fold over the radius: tracers must
// stay uniform in s = (r/R)^2. chi-square of 10 bins, 99.9 % point of 9 degrees of freedom 27.88 (table).
// That the same fails without the drift term is shown in tests/motion.
TEST_CASE("tracers in uneven turbulence stay uniform") {
  const Outside outside("chi-square, 99.9 % point of 9 degrees of freedom (table)");
  const Folder folder;
  fly(folder, std::string(still_air_head) + R"(
vessel: {inner_diameter: 190 mm, height: 320 mm}
air: {flow_rate: 0 m3/s, swirl: {speed: 2 m/s, core_radius: 30 mm, decay: 0}, turbulence: {intensity: 20 %, floor: 0.01 m2/s2}}
tags:
  - {name: tracer, count: 2500, body: {kind: tracer}, receiver: {threshold_flux_density: 18 uT}}
flight: {duration: 4 s, warmup: 0 s, step: 0.5 ms, replicates: 4, seed: 6, trace: {replicates: 4, interval: 2 s}}
)");
  std::vector<int> bins(10, 0);
  int count = 0;
  for (int replicate = 0; replicate < 4; ++replicate) {
    const auto flown = recorded(folder, replicate);
    for (std::size_t tag = 0; tag < flown.tags; ++tag, ++count) {
      const double* p = flown.at(flown.place, flown.time.size() - 1, tag);
      const double s = (p[0] * p[0] + p[1] * p[1]) / (0.095 * 0.095);
      ++bins[std::min(9, static_cast<int>(10.0 * s))];
    }
  }
  double chi_square = 0.0;
  for (const int n : bins) chi_square += std::pow(n - count / 10.0, 2) / (count / 10.0);
  CHECK(count == 10000);
  outside.below("chi-square of tracers in uneven air", chi_square, 27.88);
}

// Terminal speed from weight less buoyancy = drag with C_D(Re) of Clift & Gauvin 1971, which tests/motion
// holds against the standard drag curve. 20 spheres fall through 20 m of still air; those still in the air
// after 2 s.
TEST_CASE("a falling sphere reaches the terminal speed of its drag coefficient") {
  const Outside outside("weight less buoyancy = drag of Clift & Gauvin 1971");
  const Folder folder;
  fly(folder, std::string(still_air_head) + R"(
vessel: {inner_diameter: 10 m, height: 20 m}
air: {flow_rate: 0 m3/s, turbulence: {intensity: 0, floor: 0 m2/s2}}
tags:
  - name: ball
    count: 20
    body: {radius: 15 mm, mass: 0.42 g, drag: {kind: sphere}, restitution: 0, wall_lift: off}
    receiver: {threshold_flux_density: 18 uT}
flight: {duration: 10 ms, warmup: 2 s, replicates: 1, seed: 7, trace: {replicates: 1, interval: 10 ms}}
)");
  const double rho = 101325.0 * 28.96546e-3 / (8.314462618 * 293.15);
  const double mu = 1.458e-6 * std::pow(293.15, 1.5) / (293.15 + 110.4);
  const double a = 0.015, area = std::numbers::pi * a * a;
  const double weight = (0.42e-3 - rho * 4.0 / 3.0 * area * a) * 9.80665;
  double v = 4.0;
  for (int i = 0; i < 200; ++i) {
    const double re = 2.0 * a * v * rho / mu;
    const double cd =
        24.0 / re * (1.0 + 0.15 * std::pow(re, 0.687)) + 0.42 / (1.0 + 42500.0 * std::pow(re, -1.16));
    v = std::sqrt(2.0 * weight / (rho * cd * area));
  }
  const auto flown = recorded(folder, 0);
  int airborne = 0;
  for (std::size_t tag = 0; tag < flown.tags; ++tag) {
    if (flown.at(flown.place, 0, tag)[2] < 0.5) continue;
    ++airborne;
    // Approach to the terminal speed: 1 - e^{-2 g t/v} within 2e-4 after 2 s.
    outside.matches("terminal speed of a falling sphere [m/s]", -flown.at(flown.velocity, 0, tag)[2], v,
                    5e-4);
  }
  CHECK(airborne >= 5);
}

// Without turbulence a tracer stays on its stream surface. psi from the closed form, while the flight uses
// the map; the map's own error in velocity (1e-3) is what the tolerance allows. An Euler step would lose psi
// by half in 4 s.
TEST_CASE("a tracer without turbulence keeps its stream function") {
  const Outside outside("stream surfaces, closed form");
  const Folder folder;
  fly(folder, std::string(still_air_head) + R"(
vessel: {inner_diameter: 190 mm, height: 320 mm}
air: {flow_rate: 0.001 m3/s, circulation: 20, swirl: {speed: 0.4 m/s, core_radius: 30 mm, decay: 0.05}, turbulence: {intensity: 0, floor: 0 m2/s2}}
tags:
  - {name: tracer, count: 200, body: {kind: tracer}, receiver: {threshold_flux_density: 18 uT}}
flight: {duration: 4 s, warmup: 0 s, replicates: 1, seed: 8, trace: {replicates: 1, interval: 20 ms}}
)");
  auto design = plain_design();
  design.flow = 0.001;
  design.circulation = 20.0;
  design.swirl_decay = 0.05;
  const air::Column column(design);
  const auto flown = recorded(folder, 0);
  double largest = 0.0, worst = 0.0;
  int whole = 0;
  for (std::size_t tag = 0; tag < flown.tags; ++tag) {
    double first = 0.0;
    std::size_t j = 0;
    for (; j < flown.time.size(); ++j) {
      const double* p = flown.at(flown.place, j, tag);
      // Floor and lid let air through but mirror tracers: those end there.
      if (p[2] < 0.01 || p[2] > 0.31) break;
      const double psi = column.stream_function(std::hypot(p[0], p[1]), p[2]);
      if (j == 0) first = psi;
      largest = std::max(largest, psi);
      worst = std::max(worst, std::fabs(psi - first));
    }
    whole += j == flown.time.size();
  }
  CHECK(whole > 50);
  outside.below("stream function of a tracer, worst change [m3/s]", worst, 5e-3 * largest);
}
