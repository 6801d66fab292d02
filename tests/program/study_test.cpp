#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <random>
#include <string>

#include "sim/store/hdf5_file.hpp"
#include "tests/outside.hpp"
#include "tests/program/run.hpp"

// Expected is the straight run's result, byte for byte.

using namespace driftglow;
using namespace driftglow::program_test;

namespace {

// All that a study writes, but for the run's own attributes.
struct Written {
  std::string csv, json, page, digest;
  friend bool operator==(const Written&, const Written&) = default;
};

Written written(const std::filesystem::path& out) {
  return {read(out / "study.csv"), read(out / "study.json"), read(out / "report.html"),
          store::Reader(out / "study.h5", "").content_digest()};
}

void write_demo(const Folder& folder) {
  write(folder / "demo.yaml", with(read(config("plankton_column.yaml")), "duration: 30 s\n  warmup: 3 s",
                                   "duration: 2 s\n  warmup: 0.5 s"));
}

// Tags whose axis takes every direction in a uniform field glow for 1 - B_on/B of the time (model of the
// exact answers); a design is ready in no time.
void write_uniform(const Folder& folder) {
  write(folder / "uniform.yaml",
        "vessel: {inner_diameter: 190 mm, height: 320 mm}\n"
        "drive:\n"
        "  field: {flux_density: 40 uT, axis: [0, 0, 1], frequency: 118 kHz}\n"
        "tags:\n"
        "  - name: held\n"
        "    count: 10\n"
        "    receiver: {threshold_flux_density: 18 uT}\n"
        "    hold: {place: [0 mm, 0 mm, 160 mm], axis: uniform}\n"
        "flight: {duration: 2 s, warmup: 0 s, replicates: 16, seed: 1}\n");
}

const std::string uniform =
    "scenario: uniform.yaml\n"
    "vary:\n"
    "  - {key: drive.field.flux_density, values: [20 uT, 30 uT, 40 uT, 50 uT]}\n"
    "  - {key: 'tags[held].receiver.threshold_flux_density', values: [18 uT, 19 uT]}\n"
    "outputs:\n"
    "  - {name: duty, path: 'flight.tag_designs[held].fits[threshold].duty'}\n"
    "  - {name: peak, path: sheet.field.centre_peak}\n";

// Some designs need three times the flights of others.
const std::string adaptive = "flights: {replicates: 16, most: 1000, target_interval: 0.03 %}\n";

const std::string search =
    "scenario: uniform.yaml\n"
    "vary:\n"
    "  - {key: drive.field.flux_density, from: 20 uT, to: 50 uT}\n"
    "  - {key: 'tags[held].receiver.threshold_flux_density', from: 18 uT, to: 19.5 uT}\n"
    "design: {kind: search, samples: 30}\n"
    "flights: {replicates: 32, most: 512, spend: ranks, target_interval: 0.1 %}\n"
    "outputs:\n"
    "  - {name: duty, path: 'flight.tag_designs[held].fits[threshold].duty'}\n"
    "  - {name: peak, path: sheet.field.centre_peak}\n"
    "subject_to: [{output: peak, most: 35e-6}]\n";

const std::string vary =
    "scenario: demo.yaml\n"
    "vary:\n"
    "  - {key: drive.driver.supply, values: [20 V, 22 V, 24 V, 26 V]}\n"
    "  - {key: 'tags[plankton].receiver.turns', values: [30, 32]}\n"
    "outputs:\n"
    "  - {name: duty, path: 'flight.tag_designs[plankton].fits[yellow-green].duty'}\n"
    "  - {name: power, path: sheet.drive.supply_power}\n";

void refused(const Folder& folder, const std::string& arguments, const std::string& sentence) {
  const auto ended = run(folder, arguments);
  CAPTURE(ended.err);
  CHECK(ended.status == 2);
  CHECK(ended.err.find(sentence) != std::string::npos);
}

void done(const Folder& folder, const std::string& arguments) {
  const auto ended = run(folder, arguments);
  REQUIRE_MESSAGE(ended.status == 0, ended.err);
}

// Killed at 20 random moments, begun again where it was whole.
void kill_and_resume(const Folder& folder, const std::string& arguments, double longest, unsigned seed,
                     const Written& expected) {
  std::mt19937 generator(seed);
  std::uniform_real_distribution<double> moment(0.02, longest);
  const std::string thread_counts[] = {"1", "2", "7"};
  int whole = 0;
  for (int kill = 0; kill < 20; ++kill) {
    const std::string command = "cd '" + folder.path().string() + "' && timeout --foreground -s KILL " +
                                std::to_string(moment(generator)) + " " DRIFTGLOW_PROGRAM " " + arguments +
                                " --out killed --resume --threads " + thread_counts[kill % 3] +
                                " >/dev/null 2>&1 </dev/null";
    if (std::system(command.c_str()) != 0) continue;
    CHECK((written(folder / "killed") == expected));
    std::filesystem::remove_all(folder / "killed");
    ++whole;
  }
  CHECK(whole < 20);
  done(folder, arguments + " --out killed --resume");
  CHECK((written(folder / "killed") == expected));
  CHECK_FALSE(std::filesystem::exists(folder / "killed/study.unfinished"));
}

nlohmann::json document(const Folder& folder, const std::string& out) {
  return nlohmann::json::parse(read(folder / out / "study.json"));
}

nlohmann::json best_of(const nlohmann::json& study) {
  return study["designs"][study["ranking"]["order"][0].get<std::size_t>()];
}

}  // namespace

TEST_CASE("a study is the same at any thread count, and joined from parts") {
  const Outside outside("closed form 1 - B_on/B, model.md section 7.1");
  const Folder folder;
  write_uniform(folder);
  write(folder / "s.yaml", uniform + adaptive);
  done(folder, "vary s.yaml --quiet --out straight --threads 1");
  const Written expected = written(folder / "straight");
  done(folder, "vary s.yaml --quiet --out seven --threads 7");
  CHECK((written(folder / "seven") == expected));
  for (const std::string k : {"2", "4", "1", "3"}) done(folder, "vary s.yaml --quiet --part " + k + "/4");
  done(folder,
       "join --quiet --out joined out/s/part_4_of_4 out/s/part_1_of_4 out/s/part_3_of_4 out/s/part_2_of_4");
  CHECK((written(folder / "joined") == expected));
  refused(folder, "join --quiet --out no out/s/part_4_of_4 out/s/part_1_of_4", "parts 2, 3 of 4 are missing");
  refused(folder, "join --quiet --out no straight", "is a whole study and no part of one");

  const auto again = run(folder, "vary s.yaml --out seven --resume");
  CHECK(again.status == 0);
  CHECK(again.err.find("finished") != std::string::npos);
  refused(folder, "vary s.yaml --quiet --out seven --resume --seed 5", "seed is 1 there and 5 here");
  write(folder / "s.yaml", with(uniform + adaptive, "50 uT", "55 uT"));
  refused(folder, "vary s.yaml --quiet --out seven --resume",
          "the study's vary[1].values[4] is `50 uT` there and `55 uT` here");

  // The exact answers, within 4 standard errors of some half width/2 each.
  const auto study = document(folder, "straight");
  for (const auto& design : study["designs"]) {
    const double field = std::stod(design["values"][0].get<std::string>()),
                 threshold = std::stod(design["values"][1].get<std::string>());
    outside.near("duty of a study's design", design["outputs"]["duty"]["mean"].get<double>(),
                 (1.0 - threshold / field), 2.0 * 3e-4);
    CHECK(design["outputs"]["duty"]["half_width_95"].get<double>() <= 3e-4);
  }
  CHECK(study["designs"][1]["replicates"].get<int>() < study["designs"][6]["replicates"].get<int>());
}

TEST_CASE("a study killed at 20 random moments ends with the bytes of the straight run" *
          doctest::skip(instrumented)) {
  const Folder folder;
  write_uniform(folder);
  write(folder / "s.yaml", uniform + adaptive);
  const auto straight = run(folder, "vary s.yaml --quiet --out straight");
  REQUIRE_MESSAGE(straight.status == 0, straight.err);
  kill_and_resume(folder, "vary s.yaml --quiet", std::max(1.0, 1.1 * straight.seconds), 3,
                  written(folder / "straight"));
}

// The best is where the limit and the end of a range meet: 1 - 18/35.
TEST_CASE("a search finds the known best within its limit, and goes on to the same end after kills") {
  const Outside outside("closed form 1 - B_on/B, model.md section 7.1");
  const Folder folder;
  write_uniform(folder);
  write(folder / "s.yaml", search);
  const auto straight = run(folder, "vary s.yaml --quiet --out straight");
  REQUIRE_MESSAGE(straight.status == 0, straight.err);
  const auto study = document(folder, "straight");
  const auto best = best_of(study);
  CHECK(best["outputs"]["peak"]["mean"].get<double>() <= 35e-6);
  // Within the search's last step, 1e-3 of the ranges, and 4 standard errors of 5e-4.
  outside.near("duty of the best design found", best["outputs"]["duty"]["mean"].get<double>(),
               (1.0 - 18.0 / 35.0), 3e-3);
  CHECK(study["designs"].size() <= 30);
  if (!instrumented)
    kill_and_resume(folder, "vary s.yaml --quiet", std::max(0.3, 1.1 * straight.seconds), 5,
                    written(folder / "straight"));
  refused(folder, "vary s.yaml --part 1/2", "search");
}

// No design of the first third keeps the limit.
TEST_CASE("a search finds its way within a limit") {
  const Outside outside("closed form 1 - B_on/B, model.md section 7.1");
  const Folder folder;
  write_uniform(folder);
  write(folder / "s.yaml", with(search, "35e-6", "21e-6"));
  done(folder, "vary s.yaml --quiet --out out");
  const auto study = document(folder, "out");
  for (std::size_t i = 0; i < 10; ++i) CHECK_FALSE(study["designs"][i]["keeps_limits"].get<bool>());
  const auto best = best_of(study);
  CHECK(best["outputs"]["peak"]["mean"].get<double>() <= 21e-6);
  outside.near("duty of the best design found within a limit", best["outputs"]["duty"]["mean"].get<double>(),
               (1.0 - 18.0 / 21.0), 6e-3);
}

TEST_CASE("limits that no design keeps are said, and a quantity that never occurs has no number") {
  const Folder folder;
  write_uniform(folder);
  write(folder / "s.yaml",
        with(uniform, "values: [20 uT, 30 uT, 40 uT, 50 uT]", "values: [10 uT, 30 uT]") +
            "  - {name: spell, path: 'flight.tag_designs[held].fits[threshold].mean_on_s'}\n"
            "goal: [{output: spell, want: most}, {output: duty, want: least}]\n"
            "subject_to: [{output: duty, least: 99 %}]\n"
            "flights: {replicates: 16, most: 2000, target_interval: 50 %}\n");
  const auto ended = run(folder, "vary s.yaml --quiet --out out");
  CHECK(ended.status == 0);
  CHECK(ended.out.find("No design keeps the limits") != std::string::npos);
  auto study = document(folder, "out");
  CHECK(study["ranking"]["order"].empty());
  // 10 uT lights nothing: no spell, and no flights wasted on it.
  CHECK(study["designs"][0]["outputs"]["spell"]["mean"].is_null());
  CHECK(study["designs"][0]["replicates"].get<int>() == 16);
  CHECK(read(folder / "out/study.csv").find("\n0,10 uT,18 uT,0,0,0,1e-05,,,,16,no,,,\n") !=
        std::string::npos);

  write(folder / "s.yaml", with(read(folder / "s.yaml"), "least: 99 %", "least: 0 %"));
  const auto ranked = run(folder, "vary s.yaml --quiet --out ranked");
  CHECK(ranked.status == 0);
  study = document(folder, "ranked");
  CHECK(study["ranking"]["order"].back().get<int>() <= 1);
  CHECK_FALSE(study["designs"][0]["pareto"].get<bool>());
}

TEST_CASE("electrical designs on the same flights: paired intervals are at least three times narrower") {
  const Folder folder;
  write_demo(folder);
  write(folder / "s.yaml", with(vary, "[20 V, 22 V, 24 V, 26 V]", "[23.5 V, 24 V, 24.5 V]"));
  done(folder, "vary s.yaml --quiet --out out");
  const auto json = nlohmann::json::parse(read(folder / "out/study.json"));
  int compared = 0;
  for (const auto& comparison : json["ranking"]["comparisons"]) {
    const auto& designs = json["designs"];
    if (designs[comparison["first"].get<std::size_t>()]["values"][1] !=
        designs[comparison["second"].get<std::size_t>()]["values"][1])
      continue;
    CHECK(comparison["unpaired_half_width_95"].get<double>() >=
          3.0 * comparison["paired"]["half_width_95"].get<double>());
    ++compared;
  }
  CHECK(compared >= 2);
}

TEST_CASE(
    "a wrong output path is told at once, what cannot be built takes no rank, and a plan flies nothing") {
  const Folder folder;
  write_demo(folder);
  write(folder / "s.yaml", with(vary, "fits[yellow-green]", "fits[yellow]"));
  refused(folder, "vary s.yaml --quiet --out out", "outputs[1].path");
  CHECK_FALSE(std::filesystem::exists(folder / "out"));
  write(folder / "s.yaml", with(vary, "key: drive.driver.supply, values: [20 V, 22 V, 24 V, 26 V]",
                                "key: 'drive.coils[0].inner_diameter', values: [250 mm, 150 mm]"));
  const auto plan = run(folder, "vary s.yaml --plan");
  CHECK(plan.status == 0);
  CHECK(plan.out.find("2 of them make no scenario") != std::string::npos);
  CHECK_FALSE(std::filesystem::exists(folder / "out"));
  const auto ended = run(folder, "vary s.yaml --quiet --out out");
  CHECK(ended.status == 0);
  CHECK(ended.out.find("2 designs cannot be built") != std::string::npos);
}

TEST_CASE("ten thousand designs are planned within 500 MiB") {
  const Folder folder;
  write_uniform(folder);
  write(folder / "s.yaml", with(search, "kind: search, samples: 30", "kind: sobol, samples: 10000"));
  const auto ended = run(folder, "vary s.yaml --plan");
  CHECK(ended.status == 0);
  CHECK(ended.out.find("10000 designs") == 0);
  if (!instrumented) CHECK(ended.peak_memory < 500.0 * 1024.0 * 1024.0);
}
