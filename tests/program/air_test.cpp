#include <doctest/doctest.h>

#include <cmath>
#include <fstream>
#include <numbers>
#include <sstream>

#include "models/air/precession.hpp"
#include "sim/store/hdf5_file.hpp"
#include "tests/outside.hpp"
#include "tests/program/recorded.hpp"
#include "tests/program/run.hpp"
#include "tests/relative.hpp"

// Solved, gridded and wandering air, through the program.
using namespace driftglow;
using namespace driftglow::program_test;

namespace {

std::string quick(const std::string& name) {
  return with(with(read(config(name)), "  inlet_height:", "  detail: quick\n  inlet_height:"),
              "duration: 20 s", "duration: 6 s");
}

const char* wandering = R"(
vessel: {inner_diameter: 200 mm, height: 300 mm}
drive: {field: {flux_density: 40 uT, frequency: 118 kHz}}
air: {flow_rate: 0.031415926535897934 m3/s, circulation: 0, turbulence: {intensity: 0, floor: 0.01 m2/s2}, precession: {speed: 0.5 m/s, strouhal_number: 0.8}}
tags:
  - {name: tracer, count: 3000, body: {kind: tracer}, receiver: {threshold_flux_density: 18 uT}}
flight: {duration: 1 s, warmup: 0 s, step: 1 ms, replicates: 4, seed: 9, trace: {replicates: 4, interval: 100 ms}}
)";

}  // namespace

// README's sentence on the example vessels, and rules of the trade at equal flow (common practice, no
// source): swirl keeps tags moving where straight air pins them; air that leaves through the middle of the
// lid alone holds them under it, air that leaves all around does not.
TEST_CASE("the example vessels do what README says of them, and a hole in the middle of the lid holds tags") {
  struct Flown {
    double flow, grid_error, pinned, under_lid;
  };
  const auto flown = [](const std::string& scenario) {
    const Folder folder;
    const auto summary = fly(folder, scenario, "--replicates 4");
    const auto& design = summary["tag_designs"][0];
    const store::Reader air(folder / "out/air.h5", "");
    return Flown{air.number("/solved", "flow"), air.number("/solved", "velocity_grid_error"),
                 design["pinned_share"]["mean"].get<double>(),
                 design["pinned_share_by_surface"]["lid"]["mean"].get<double>()};
  };
  const auto gap = quick("straight_flow.yaml");
  const auto straight = flown(gap), swirl = flown(quick("swirling_flow.yaml"));
  CHECK(straight.grid_error < 0.45);
  CHECK(swirl.flow == relative(straight.flow, 0.05));
  CHECK(straight.pinned > 0.8);
  CHECK(swirl.pinned < 0.1);
  CHECK(straight.under_lid < 0.1);
  CHECK(swirl.under_lid < 0.1);
  CHECK(flown(quick("open_vent.yaml")).flow > 1.2 * straight.flow);
  const auto hole = flown(with(gap, "side_gap: {height: 14 mm}",
                               "holes: {from_radius: 0 mm, to_radius: 51.5 mm, diameter: 103 mm, count: 1}"));
  CHECK(hole.flow == relative(straight.flow, 0.05));
  CHECK(hole.under_lid > 0.5);
}

// The sheet by itself, the flight with gusts and other tags taken away. 120 places and 384 tags: 4.5 standard
// errors of the difference are at most 0.23.
TEST_CASE("where the sheet says that tags end in calm air, they end") {
  std::string text =
      with(read(config("plankton_column.yaml")), "turbulence: {intensity: 15 %, floor: 0.02 m2/s2}",
           "turbulence: {intensity: 0 %, floor: 0 m2/s2}");
  text = with(with(text, "count: 12", "count: 1"), "    mix: {yellow-green: 8, warm-white: 4}\n", "");
  text = with(with(text, "duration: 30 s", "duration: 8 s"), "warmup: 3 s", "warmup: 0 s");
  text = with(text, "trace: {replicates: 1, interval: 20 ms}", "trace: {replicates: 384, interval: 500 ms}");
  const Folder folder;
  fly(folder, text, "--replicates 384");
  const auto sheet = nlohmann::json::parse(run(folder, "sheet scenario.yaml --json").out)["air"]["tags"][0];
  int count = 0;
  double lid = 0.0, floor = 0.0, wall = 0.0;
  for (int replicate = 0; replicate < 384; ++replicate) {
    const auto flown = recorded(folder, replicate);
    REQUIRE(flown.time.back() > 7.4);
    const double* p = flown.at(flown.place, flown.time.size() - 1, 0);
    const double near = 1.1 * 0.015;
    ++count;
    if (p[2] > 0.32 - near)
      ++lid;
    else if (p[2] < near)
      ++floor;
    else if (std::hypot(p[0], p[1]) > 0.095 - near)
      ++wall;
  }
  for (const auto& [name, ended] : {std::pair{"lid", lid}, {"floor", floor}, {"wall", wall}}) {
    const double told = sheet[name].get<double>(), seen = ended / count;
    INFO(name << " " << told << " " << seen);
    CHECK(std::fabs(told - seen) <= 4.5 * std::sqrt(0.25 / 120 + 0.25 / 384));
  }
}

TEST_CASE("solved air gives the same bytes at any thread count, fresh or from air.h5") {
  const Folder folder;
  for (const char* name : {"swirling_flow.yaml", "tapered_flow.yaml"}) {
    const std::string scenario = with(quick(name), "duration: 6 s", "duration: 1 s");
    fly(folder, scenario, "--replicates 5 --threads 1");
    const auto digest = [&] { return store::Reader(folder / "out/flight.h5", "").content_digest(); };
    const std::string one = digest(), air = read(folder / "out/air.h5");
    for (const char* threads : {"2", "7"}) {
      fly(folder, scenario, std::string("--replicates 5 --threads ") + threads);
      CHECK(digest() == one);
      CHECK(read(folder / "out/air.h5") == air);
    }
    std::filesystem::remove_all(folder / "out");
  }
}

// A grid that the program wrote itself, as HDF5 and as CSV in other units: what comes back differs by the
// projection of 49 x 97 values rounded to 6 digits.
TEST_CASE("a grid of the demo's air gives the demo's air") {
  const Outside outside("air that the program wrote itself");
  const Folder folder;
  REQUIRE(run(folder, "map " + config("plankton_column.yaml").string() + " --quiet --out demo").status == 0);
  const store::Reader demo(folder / "demo/air.h5", "");
  const auto r = demo.read<double>("/axes/r", 1).values, z = demo.read<double>("/axes/z", 1).values;
  const auto field = [&](const char* path) { return demo.read<double>(path, 2).values; };
  const auto u_r = field("/mean/u_r"), u_theta = field("/mean/u_theta"), u_z = field("/mean/u_z"),
             k = field("/turbulence/k"), epsilon = field("/turbulence/epsilon");
  std::ofstream csv(folder / "air.csv");
  csv.precision(8);
  csv << "r [mm], z [cm], u_r [mm/s], u_theta [m/s], u_z [m/s], k [m2/s2], epsilon [m2/s3]\n";
  for (std::size_t i = 0; i < r.size(); ++i)
    for (std::size_t j = 0; j < z.size(); ++j) {
      const std::size_t n = i * z.size() + j;
      csv << 1e3 * r[i] << ", " << 1e2 * z[j] << ", " << 1e3 * u_r[n] << ", " << u_theta[n] << ", " << u_z[n]
          << ", " << k[n] << ", " << epsilon[n] << "\n";
    }
  csv.close();
  const std::string text = read(config("plankton_column.yaml"));
  const auto from = text.find("air:"), to = text.find("tags:");
  std::vector<double> flows;
  for (const char* file : {"air.csv", "demo/air.h5"}) {
    write(folder / "grid.yaml", text.substr(0, from) + "air: {source: gridded, file: " + file +
                                    ", open_above: 229 mm}\n" + text.substr(to));
    const auto ended = run(folder, "map grid.yaml --quiet --out out");
    REQUIRE(ended.status == 0);
    const store::Reader out(folder / "out/air.h5", "");
    CHECK(out.number("/check", "projection_change_rms") < 0.02);
    CHECK(out.number("/check", "divergence_before") < 0.3);
    const auto got = out.read<double>("/mean/u_z", 2).values;
    double difference = 0.0, square = 0.0;
    for (std::size_t i = 0; i < r.size(); ++i)
      for (std::size_t j = 0; j < z.size(); ++j) {
        const std::size_t n = i * z.size() + j;
        difference += r[i] * std::pow(got[n] - u_z[n], 2), square += r[i] * std::pow(u_z[n], 2);
      }
    outside.below("demo's air from a grid, rms difference", std::sqrt(difference / square), 0.02);
    const auto sheet = run(folder, "sheet grid.yaml --json --out out");
    REQUIRE(sheet.status == 0);
    flows.push_back(nlohmann::json::parse(sheet.out)["air"]["flow"].get<double>());
    outside.matches("flow of the demo's air from a grid [m3/s]", flows.back(), 0.07, 0.01);
  }
}

TEST_CASE("a fault in the air's file is told with its line, and nothing is written") {
  const Folder folder;
  const std::string text = read(config("plankton_column.yaml"));
  write(folder / "grid.yaml", text.substr(0, text.find("air:")) + "air: {source: gridded, file: air.csv}\n" +
                                  text.substr(text.find("tags:")));
  write(folder / "air.csv", "r [mm], z [mm], u_theta [m/s], u_z [m/s]\n0, 0, 0, one\n");
  const auto ended = run(folder, "sheet grid.yaml");
  CHECK(ended.status == 2);
  CHECK(ended.err.find("air.csv:2: column `u_z` holds `one`; expected a number") != std::string::npos);
  CHECK(ended.out.empty());
  write(folder / "grid.yaml", text.substr(0, text.find("air:")) + "air: {source: gridded, file: none.csv}\n" +
                                  text.substr(text.find("tags:")));
  const auto line =
      std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(text.find("air:")), '\n') + 1;
  const auto missed = run(folder, "sheet grid.yaml");
  CHECK(missed.status == 2);
  CHECK(missed.err.find("grid.yaml:" + std::to_string(line) + ":30: air.file: ") != std::string::npos);
  CHECK(missed.err.find("none.csv: the file of the air does not exist; expected") != std::string::npos);
}

TEST_CASE("a vessel that no fan can blow through is refused") {
  const Folder folder;
  write(folder / "s.yaml",
        with(read(config("straight_flow.yaml")),
             "[0 m3/s, 190 Pa], [0.05 m3/s, 165 Pa], [0.1 m3/s, 110 Pa], [0.15 m3/s, 0 Pa]",
             "[0 m3/s, 1 Pa], [0.15 m3/s, 0 Pa]"));
  const auto ended = run(folder, "fly s.yaml --quiet --out out");
  CHECK(ended.status == 2);
  CHECK(ended.err.find("expected a stronger fan") != std::string::npos);
}

// U = Q/(pi R^2) = 1 m/s and D = 0.2 m, so St = 0.8 is 4 Hz. Without turbulence, swirl and circulation a
// tracer's velocity across is the precession's, half a step before the recorded picture; its place there is
// known to second order, 1e-3 of a step's way over the vessel's radius.
TEST_CASE("tracers go round with the precession's speed and frequency") {
  const Outside outside("U = Q/(pi R^2), Strouhal number, by hand");
  const Folder folder;
  fly(folder, with(wandering, "floor: 0.01 m2/s2", "floor: 0 m2/s2"), "--replicates 1");
  const store::Reader air(folder / "out/air.h5", "");
  outside.matches("frequency of the precession [Hz]", air.number("/precession", "frequency"), 4.0, 1e-12);
  CHECK(air.number("/precession", "speed") == relative(0.5, 1e-12));
  const auto flown = recorded(folder, 0);
  const numeric::Vec3<double> none{0.0, 0.0, 0.0};
  double worst = 0.0, largest = 0.0;
  // The first picture still knows the start from rest.
  for (std::size_t j = 1; j < flown.time.size(); ++j) {
    for (std::size_t tag = 0; tag < flown.tags; ++tag) {
      const double *p = flown.at(flown.place, j, tag), *v = flown.at(flown.velocity, j, tag);
      const double half = 0.5e-3;
      air::AirSample<double> sample{none, none, 0.0, none, 0.0, 0.0};
      air::add_precession<double>({0.5, 4.0}, 0.1, 4.0 * (flown.time[j] - half),
                                  {p[0] - half * v[0], p[1] - half * v[1], p[2] - half * v[2]}, sample);
      worst = std::max({worst, std::fabs(v[0] - sample.u_W.x), std::fabs(v[1] - sample.u_W.y)});
      largest = std::max(largest, std::hypot(v[0], v[1]));
    }
  }
  outside.matches("speed of tracers in a precession [m/s]", largest, 0.5, 0.02);
  outside.below("velocity of tracers in a precession, worst error [m/s]", worst, 1e-3 * 0.5);
}

// The precession is divergence-free, so tracers in uniform turbulence stay uniform in s: chi-square of 10
// bins, 99.9 % point of 9 degrees of freedom 27.88 (table).
TEST_CASE("precession keeps tracers mixed") {
  const Outside outside("chi-square, 99.9 % point of 9 degrees of freedom (table)");
  const Folder folder;
  fly(folder, wandering);
  std::vector<int> bins(10, 0);
  int count = 0;
  for (int replicate = 0; replicate < 4; ++replicate) {
    const auto flown = recorded(folder, replicate);
    for (std::size_t tag = 0; tag < flown.tags; ++tag, ++count) {
      const double* p = flown.at(flown.place, flown.time.size() - 1, tag);
      ++bins[std::min(9, static_cast<int>(1000.0 * (p[0] * p[0] + p[1] * p[1])))];
    }
  }
  double chi_square = 0.0;
  for (const int n : bins) chi_square += std::pow(n - count / 10.0, 2) / (count / 10.0);
  CHECK(count == 12000);
  outside.below("chi-square of tracers in a precession", chi_square, 27.88);
}

// The wall of configs/tapered_flow.yaml, 85 mm at the mesh and 105 mm at the lid, by its own equation; places
// are recorded in single precision.
TEST_CASE("tags stay inside a tapered wall") {
  const Folder folder;
  const auto summary = fly(folder, quick("tapered_flow.yaml"), "--replicates 2");
  CHECK(summary["vessel"].is_object());
  const auto flown = recorded(folder, 0);
  REQUIRE(flown.tags == 12);
  const double slope = 0.02 / 0.32, apart = 0.015 * std::hypot(1.0, slope);
  double beyond = -1.0, highest = 0.0;
  for (std::size_t j = 0; j < flown.time.size(); ++j) {
    for (std::size_t tag = 0; tag < flown.tags; ++tag) {
      const double* p = flown.at(flown.place, j, tag);
      beyond = std::fmax(beyond, std::hypot(p[0], p[1]) + apart - (0.085 + slope * p[2]));
      highest = std::fmax(highest, p[2]);
    }
  }
  CHECK(beyond < 2e-5);
  CHECK(highest < 0.305 + 2e-5);
}
