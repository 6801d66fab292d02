#include <doctest/doctest.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <random>
#include <string>

#include "sim/store/hdf5_file.hpp"
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

const std::string vary =
    "scenario: demo.yaml\n"
    "vary:\n"
    "  - {key: drive.driver.supply, values: [20 V, 22 V, 24 V, 26 V]}\n"
    "  - {key: 'tags[plankton].receiver.turns', values: [30, 32]}\n"
    "outputs:\n"
    "  - {name: duty, path: 'flight.tag_designs[plankton].fits[yellow-green].duty'}\n"
    "  - {name: power, path: sheet.drive.supply_power}\n";

const std::string adaptive = "flights: {replicates: 16, most: 400, target_interval: 0.6 %}\n";

const std::string search =
    "scenario: demo.yaml\n"
    "vary:\n"
    "  - {key: drive.driver.supply, from: 18 V, to: 30 V}\n"
    "  - {key: 'tags[plankton].receiver.turns', from: 28, to: 36}\n"
    "design: {kind: search, samples: 14}\n"
    "flights: {replicates: 16, most: 64, spend: ranks, target_interval: 1 %}\n"
    "outputs:\n"
    "  - {name: duty, path: 'flight.tag_designs[plankton].fits[yellow-green].duty'}\n"
    "  - {name: power, path: sheet.drive.supply_power}\n"
    "subject_to: [{output: power, most: 0.12}]\n";

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

// Killed at random moments until it is whole.
void kill_and_resume(const Folder& folder, const std::string& arguments, double longest, int kills,
                     unsigned seed) {
  std::mt19937 generator(seed);
  std::uniform_real_distribution<double> moment(0.05, longest);
  for (int kill = 0; kill < kills; ++kill) {
    const std::string command = "cd '" + folder.path().string() + "' && timeout --foreground -s KILL " +
                                std::to_string(moment(generator)) + " " DRIFTGLOW_PROGRAM " " + arguments +
                                " --resume >/dev/null 2>&1 </dev/null";
    if (std::system(command.c_str()) == 0) break;
  }
  done(folder, arguments + " --resume");
}

}  // namespace

TEST_CASE("a study is the same at any thread count, after kills, and joined from parts") {
  const Folder folder;
  write_demo(folder);
  write(folder / "s.yaml", vary + adaptive);
  done(folder, "vary s.yaml --quiet --out straight --threads 1");
  const Written expected = written(folder / "straight");
  done(folder, "vary s.yaml --quiet --out seven --threads 7");
  CHECK((written(folder / "seven") == expected));
  kill_and_resume(folder, "vary s.yaml --quiet --out killed --threads 2", 2.5, 6, 3);
  CHECK((written(folder / "killed") == expected));
  CHECK_FALSE(std::filesystem::exists(folder / "killed/study.unfinished"));
  for (const std::string k : {"2", "4", "1", "3"}) done(folder, "vary s.yaml --quiet --part " + k + "/4");
  done(folder,
       "join --quiet --out joined out/s/part_4_of_4 out/s/part_1_of_4 out/s/part_3_of_4 out/s/part_2_of_4");
  CHECK((written(folder / "joined") == expected));
  refused(folder, "join --quiet --out no out/s/part_4_of_4 out/s/part_1_of_4", "parts 2, 3 of 4 are missing");

  const auto again = run(folder, "vary s.yaml --out killed --resume");
  CHECK(again.status == 0);
  CHECK(again.err.find("finished") != std::string::npos);
  write(folder / "s.yaml", with(vary + adaptive, "26 V", "27 V"));
  refused(folder, "vary s.yaml --quiet --out killed --resume",
          "the study's vary[1].values[4] is `26 V` there and `27 V` here");
}

TEST_CASE("a search keeps its limit, beats the middle, and goes on to the same end after kills") {
  const Folder folder;
  write_demo(folder);
  write(folder / "s.yaml", search);
  done(folder, "vary s.yaml --quiet --out straight");
  const Written expected = written(folder / "straight");
  kill_and_resume(folder, "vary s.yaml --quiet --out killed --threads 1", 3.0, 4, 5);
  CHECK((written(folder / "killed") == expected));
  const auto json = nlohmann::json::parse(expected.json);
  const auto& best = json["designs"][json["ranking"]["order"][0].get<std::size_t>()];
  CHECK(best["outputs"]["power"]["mean"].get<double>() <= 0.12);
  // What a grid of the same ranges finds best within the limit, 23 V and 33 turns, less its interval.
  CHECK(best["outputs"]["duty"]["mean"].get<double>() > 0.45);
  CHECK(json["designs"].size() <= 14);
  refused(folder, "vary s.yaml --part 1/2", "search");
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
  write_demo(folder);
  write(folder / "s.yaml", with(search, "kind: search, samples: 14", "kind: sobol, samples: 10000"));
  const auto ended = run(folder, "vary s.yaml --plan");
  CHECK(ended.status == 0);
  CHECK(ended.out.find("10000 designs") == 0);
  if (!instrumented) CHECK(ended.peak_memory < 500.0 * 1024.0 * 1024.0);
}
