#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include "models/receiver/led_fit.hpp"
#include "models/receiver/steady_state.hpp"
#include "sim/store/hdf5_file.hpp"
#include "tests/instruction_sets.hpp"
#include "tests/outside.hpp"
#include "tests/program/run.hpp"
#include "tests/receiver/examples.hpp"
#include "tests/relative.hpp"

// Antiparallel pairs, capacitor classes, the drive's tolerances and coupled tags, through the finished
// program.
using namespace driftglow;
using namespace driftglow::program_test;

namespace {

std::string with_pairs(const std::string& demo) {
  return with(with(demo, "fits: [yellow-green, warm-white]",
                   "fits: [yellow-green, warm-white, yellow-green | warm-white, red | red]"),
              "mix: {yellow-green: 8, warm-white: 4}", "mix: {yellow-green | warm-white: 8, red | red: 4}");
}

std::string coupled(const std::string& demo) {
  return with(demo, "flight:\n", "flight:\n  coupling: on\n");
}

void check_same_bytes(const std::string& scenario, const std::string& options, const std::string& others) {
  const Folder a, b;
  fly(a, scenario, options);
  fly(b, scenario, others);
  for (const char* name : {"summary.csv", "summary.json"})
    CHECK(read(a / "out" / name) == read(b / "out" / name));
  CHECK(store::Reader(a / "out/flight.h5", "").content_digest() ==
        store::Reader(b / "out/flight.h5", "").content_digest());
}

void check_same_bytes_everywhere(const std::string& scenario, const std::string& replicates) {
  check_same_bytes(scenario, replicates + " --threads 1", replicates + " --threads 7");
  if (available(flight::InstructionSet::avx512))
    check_same_bytes(scenario, replicates + " --instructions avx2", replicates + " --instructions avx512");
}

}  // namespace

// A tag held along a uniform field: EMF omega N A B, the area of each turn as wound (by hand: three layers of
// 8, 8 and 7 turns, 0.149 mm apart). The two currents are those of the steady state (models/receiver, held
// against CVODE) in the tank that the sheet states, the LED's law from the library's points; 0.3 % for the
// table of currents (0.2 %) and the printed tank.
TEST_CASE("a held pair shines as its circuit says") {
  const std::string text = R"(
vessel: {inner_diameter: 190 mm, height: 320 mm}
drive: {field: {flux_density: 45 uT, frequency: 118 kHz}}
tags:
  - name: held
    count: 3
    receiver: {inner_diameter: 30 mm, turns: 24, layers: 3, wire: 0.125 mm, enamelled_diameter: 0.149 mm, capacitor: 47 nF, threshold_current: 0.2 mA}
    fits: [yellow-green|warm-white, red | red, yellow-green]
    mix: {yellow-green | warm-white: 1, red | red: 2}
    hold: {place: [0 mm, 0 mm, 160 mm], axis: [0, 0, 1]}
flight: {duration: 1 s, warmup: 0 s, replicates: 2}
)";
  const Folder folder;
  const auto summary = fly(folder, text);
  const auto sheet = nlohmann::json::parse(run(folder, "sheet scenario.yaml --json --quiet").out);
  const auto& tank = sheet["tags"][0]["receiver"];
  double area = 0.0;
  for (int layer = 0; layer < 3; ++layer)
    area += 8.0 * std::numbers::pi * std::pow(0.015 + 0.125e-3 / 2.0 + layer * 0.149e-3, 2);
  CHECK(tank["area_turns"].get<double>() == relative(area, 2e-3));
  const double omega = 2.0 * std::numbers::pi * 118e3;
  const double emf = omega * tank["area_turns"].get<double>() * 45e-6;
  const auto law = [](const std::string& name) {
    for (const auto& [known, points] : receiver::example::typical_emitters()) {
      if (known == name) return receiver::fit_led(points, {25.0, 50e-9}, 293.15).law;
    }
    throw std::runtime_error("no such emitter");
  };
  const std::pair<const char*, const char*> pairs[] = {{"yellow-green", "warm-white"}, {"red", "red"}};
  for (int f = 0; f < 2; ++f) {
    const auto& fit = summary["tag_designs"][0]["fits"][f];
    CHECK(fit["emitter"] == fmt::format("{} | {}", pairs[f].first, pairs[f].second));
    receiver::TankDesign design{tank["inductance"], tank["resistance"], tank["capacitance"], 0.001,
                                2.0 * 40e-12,       law(pairs[f].first)};
    design.antiparallel = law(pairs[f].second);
    receiver::SteadyStateSolver solver(design, omega, 1024);
    const auto point = solver.solve(emf).value;
    CHECK(fit["mean_current_A"]["mean"].get<double>() ==
          relative(point.mean_current + point.mean_current_antiparallel, 3e-3));
    CHECK(fit["duty"]["mean"] == 1.0);
    REQUIRE(fit["emitters"].size() == 2);
    for (int i = 0; i < 2; ++i)
      CHECK(fit["emitters"][i]["emitter"] == (i == 0 ? pairs[f].first : pairs[f].second));
    const double light = fit["mean_light_cd"]["mean"];
    double sum = 0.0;
    for (const auto& emitter : fit["emitters"]) sum += emitter["mean_light_cd"]["mean"].get<double>();
    CHECK(sum == relative(light, 1e-12));
  }
  // Equal LEDs give equal light, and the colour of either.
  const auto& red = summary["tag_designs"][0]["fits"][1];
  CHECK(red["emitters"][0]["mean_light_cd"]["mean"].get<double>() ==
        relative(red["emitters"][1]["mean_light_cd"]["mean"].get<double>(), 1e-6));
  CHECK(red["chromaticity"][0].get<double>() ==
        relative(red["emitters"][0]["chromaticity"][0].get<double>(), 1e-9));
  // Of the carried: one tag of the first pair, two of the second.
  double total = 0.0;
  for (const auto& colour : summary["vessel"]["light_by_colour"])
    total += colour["mean_light_cd"]["mean"].get<double>();
  CHECK(total == relative(summary["tag_designs"][0]["fits"][0]["mean_light_cd"]["mean"].get<double>() +
                              2.0 * red["mean_light_cd"]["mean"].get<double>(),
                          1e-6));
  CHECK(summary["vessel"]["light_by_colour"].size() == 3);
  CHECK_FALSE(summary["tag_designs"][0]["fits"][2].contains("emitters"));

  // The name is one part of a path and one field of a row.
  const store::Reader file(folder / "out/flight.h5", "");
  CHECK(file.read<double>("/duty/held/yellow-green | warm-white", 1).values.size() == 2);
  const auto light = file.read<double>("/light_by_emitter/held/red | red", 2);
  CHECK(light.extents == std::vector<std::uint64_t>{2, 2});
  CHECK(read(folder / "out/summary.csv").find("\nheld,yellow-green | warm-white,1,") != std::string::npos);
}

TEST_CASE("pairs give the same bytes on any number of threads and in both fused packs") {
  check_same_bytes_everywhere(with_pairs(short_demo("1 s")), "--replicates 21");
}

// The electrical side never pushes a tag: with the same seed the flights are the same with and without
// coupling, so that the reported shift is the difference of the two runs' duties to the last digits.
TEST_CASE("a coupled flight reports what the coupling does") {
  const std::string demo = short_demo("2 s");
  const Folder on, off;
  const auto with_coupling = fly(on, coupled(demo), "--replicates 8"),
             without = fly(off, demo, "--replicates 8");
  double largest = 0.0;
  for (int f = 0; f < 2; ++f) {
    const auto& fit = with_coupling["tag_designs"][0]["fits"][f];
    const double shift = fit["duty_shift_by_coupling"]["mean"];
    CHECK(std::isfinite(fit["duty_shift_by_coupling"]["half_width_95"].get<double>()));
    const double difference = fit["duty"]["mean"].get<double>() -
                              without["tag_designs"][0]["fits"][f]["duty"]["mean"].get<double>();
    CHECK(std::fabs(shift - difference) <= 1e-12);
    largest = std::max(largest, std::fabs(shift));
    CHECK_FALSE(without["tag_designs"][0]["fits"][f].contains("duty_shift_by_coupling"));
  }
  CHECK(largest > 1e-4);
  CHECK(largest < 0.05);
  CHECK(with_coupling["vessel"]["uncoupled_share"]["mean"] == 0.0);
  CHECK_FALSE(without["vessel"].contains("uncoupled_share"));
  const store::Reader file(on / "out/flight.h5", "");
  CHECK(file.read<double>("/duty_shift_by_coupling/plankton/warm-white", 1).values.size() == 8);
  CHECK(file.description("/trace/0/linkage").meaning.find("drive's field alone") != std::string::npos);
  // The sheet's caution says what to do, and is silent once that is done.
  CHECK(run(off, "sheet scenario.yaml --quiet").out.find("flight.coupling: on") != std::string::npos);
  CHECK(run(on, "sheet scenario.yaml --quiet").out.find("flight.coupling") == std::string::npos);
}

TEST_CASE("coupled flights give the same bytes on any number of threads and in both fused packs") {
  check_same_bytes_everywhere(coupled(with_pairs(short_demo("0.2 s"))), "--replicates 18");
}

// One draw of the drive's L and C a replicate for all tags, uniform within 3 and 5 %. Ideal push-pull: the
// field goes with sqrt(C/L), so ln B scatters by sqrt((0.03^2 + 0.05^2)/12), and the duty 1 - x, x = B_on/B,
// by x times that: 0.0092 at x = 0.55, beside which the shares of 40 000 directions scatter by 0.0025. 300
// replicates know a deviation to 4 %; four of them. Two designs of one vessel share the draw: their
// difference scatters by the directions alone.
TEST_CASE("the drive's tolerances widen the interval as one draw a replicate does") {
  const Outside outside("closed form of the scatter, 4 standard errors");
  const std::string text = R"(
vessel: {inner_diameter: 190 mm, height: 320 mm}
drive:
  driver: {kind: current_fed_push_pull, supply: 14 V, drop: 0.7 V, capacitor: 20 nF, tolerances: {inductance: 3 %, capacitance: 5 %}}
  coils:
    - {name: lower, height: 80 mm, inner_diameter: 200 mm, turns: 10, wire: 1 mm, pitch: 1.5 mm}
    - {name: upper, height: 240 mm, inner_diameter: 200 mm, turns: 10, wire: 1 mm, pitch: 1.5 mm}
tags:
  - {name: one, count: 20, receiver: {threshold_flux_density: 20.4 uT}, hold: {place: [0 mm, 0 mm, 160 mm], axis: uniform}}
  - {name: other, count: 20, receiver: {threshold_flux_density: 20.4 uT}, hold: {place: [0 mm, 0 mm, 160 mm], axis: uniform}}
flight: {duration: 2 s, warmup: 0 s, replicates: 300, seed: 11}
)";
  const Folder folder, exact_folder;
  const auto built = fly(folder, text);
  const auto computed =
      fly(exact_folder, with(text, ", tolerances: {inductance: 3 %, capacitance: 5 %}", ""));
  const double x = 1.0 - computed["tag_designs"][0]["fits"][0]["duty"]["mean"].get<double>();
  outside.matches("threshold over the field of a held tag", x, 20.4 / 37.08, 0.01);
  const double noise = std::sqrt(x * (1.0 - x) / 40000.0);
  const double drive = x * std::sqrt((0.03 * 0.03 + 0.05 * 0.05) / 12.0);
  const auto deviation = [](const std::vector<double>& values) {
    double sum = 0.0, square = 0.0;
    for (const double v : values) {
      sum += v;
      square += v * v;
    }
    const auto n = static_cast<double>(values.size());
    return std::sqrt((square - sum * sum / n) / (n - 1.0));
  };
  const auto duties = [&](const Folder& of, const std::string& name) {
    return store::Reader(of / "out/flight.h5", "").read<double>("/duty/" + name + "/threshold", 1).values;
  };
  const auto one = duties(folder, "one"), other = duties(folder, "other");
  std::vector<double> difference;
  for (std::size_t i = 0; i < one.size(); ++i) difference.push_back(one[i] - other[i]);
  outside.matches("deviation of duties over replicates", deviation(one), std::hypot(drive, noise), 0.16);
  outside.matches("deviation of duties over replicates", deviation(duties(exact_folder, "one")), noise, 0.16);
  outside.matches("deviation of the difference of two designs", deviation(difference), std::sqrt(2.0) * noise,
                  0.16);
  const auto& duty = built["tag_designs"][0]["fits"][0]["duty"];
  outside.matches("standard error of the duty", duty["standard_error"].get<double>(),
                  std::hypot(drive, noise) / std::sqrt(300.0), 0.16);
}

// The tank's peak at the largest EMF is the LED's forward or reverse peak, some volts.
TEST_CASE("the sheet warns where the tank's peak exceeds the capacitor's rating") {
  const Folder folder;
  const std::string demo = read(config("plankton_column.yaml"));
  const std::string capacitor = "      capacitor: 33 nF\n";
  write(folder / "low.yaml", with(demo, capacitor, capacitor + "      capacitor_rated_voltage: 2.5 V\n"));
  write(folder / "high.yaml", with(demo, capacitor, capacitor + "      capacitor_rated_voltage: 50 V\n"));
  const auto sheet = nlohmann::json::parse(run(folder, "sheet low.yaml --json --quiet").out);
  double peak = 0.0;
  for (const auto& fit : sheet["tags"][0]["fits"]) {
    const auto& most = fit["led"]["at_largest_emf"];
    peak = std::max({peak, most["forward_peak"].get<double>(), most["reverse_peak"].get<double>()});
  }
  CHECK(peak > 2.5);
  const std::string sentence =
      fmt::format("the capacitor's peak voltage is up to {:.2f} V, rated 2.50 V.", peak);
  CHECK(run(folder, "sheet low.yaml --quiet").out.find("the capacitor's peak voltage") != std::string::npos);
  bool found = false;
  for (const auto& caution : sheet["cautions"])
    found = found || caution.get<std::string>().find(sentence) != std::string::npos;
  CHECK(found);
  CHECK(run(folder, "sheet high.yaml --quiet").out.find("the capacitor's peak voltage") == std::string::npos);
}
