#include <doctest/doctest.h>
#include <sys/wait.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>

#include "tests/program/run.hpp"
#include "tests/relative.hpp"

// The finished program as its users see it. Expected are interface.md's exit status, streams and files.

namespace {

using namespace driftglow;
using namespace driftglow::program_test;

constexpr const char* good =
    "vessel: {inner_diameter: 190 mm, height: 320 mm}\n"
    "drive: {field: {flux_density: 40 uT, frequency: 118 kHz}}\n"
    "tags: [{name: held, count: 2, receiver: {threshold_flux_density: 18 uT}, hold: {place: [0 mm, 0 mm, 160 "
    "mm]}}]\n"
    "flight: {duration: 1 s, warmup: 0 s, replicates: 3}\n";

struct Extent {
  std::size_t lines = 0, columns = 0;
};
Extent extent(const std::string& text) {
  Extent result;
  std::istringstream stream(text);
  for (std::string line; std::getline(stream, line); ++result.lines)
    result.columns = std::max(result.columns, line.size());
  return result;
}

void check_refused(const Ended& ended, const std::string& expected) {
  CAPTURE(ended.err);
  CHECK(ended.status == 2);
  CHECK(ended.out.empty());
  CHECK(extent(ended.err).lines == 1);
  CHECK(ended.err.find(expected) != std::string::npos);
}

}  // namespace

TEST_CASE("help fits a screen and every command shows an example") {
  const Folder folder;
  const auto help = run(folder, "--help");
  CHECK(help.status == 0);
  CHECK(extent(help.out).lines <= 24);
  CHECK(extent(help.out).columns <= 100);
  for (const std::string command : {"sheet", "map", "fly", "show", "keys"}) {
    CHECK(help.out.find(command) != std::string::npos);
    const auto of_command = run(folder, command + " --help");
    CHECK(of_command.status == 0);
    CHECK(extent(of_command.out).lines <= 24);
    CHECK(extent(of_command.out).columns <= 100);
    CHECK(of_command.out.find("Example: driftglow " + command) != std::string::npos);
  }
  CHECK(run(folder, "--version").out.rfind("driftglow ", 0) == 0);
}

TEST_CASE("a wrong command line is one sentence, exit 2") {
  const Folder folder;
  check_refused(run(folder, "flyy scenario.yaml"), "flyy");
  check_refused(run(folder, ""), "driftglow --help");
  check_refused(run(folder, "fly"), "SCENARIO");
  check_refused(run(folder, "fly good.yaml --threads 0"), "--threads");
  check_refused(run(folder, "fly good.yaml --seed minus"), "--seed");
  check_refused(run(folder, "fly good.yaml --colour"), "--colour");
  check_refused(run(folder, "fly good.yaml --instructions fast"),
                "--instructions: this machine has no set `fast`; expected one of scalar, baseline");
  CHECK(folder.names().empty());
}

TEST_CASE("a wrong scenario is one sentence, exit 2, and leaves nothing") {
  const Folder folder;
  write(folder / "unit.yaml", with(good, "190 mm", "190 s"));
  write(folder / "key.yaml", with(good, "height: 320 mm", "height: 320 mm, heigth: 320 mm"));
  write(folder / "number.yaml", with(good, "190 mm", "190"));
  // A fan that cannot carry the tag is found after the folder was made.
  write(folder / "fan.yaml",
        "vessel: {inner_diameter: 190 mm, height: 320 mm}\n"
        "drive: {field: {flux_density: 40 uT, frequency: 118 kHz}}\n"
        "air: {fan: {curve: [[0 m3/s, 1 Pa], [0.1 m3/s, 0 Pa]]}}\n"
        "tags: [{name: brick, count: 1, body: {radius: 10 mm, mass: 1 kg}, "
        "receiver: {threshold_flux_density: 18 uT}}]\n"
        "flight: {duration: 1 s}\n");
  for (const std::string command : {"sheet", "map", "fly"}) {
    check_refused(run(folder, command + " absent.yaml"), "absent.yaml");
    check_refused(run(folder, command + " unit.yaml"), "unit.yaml:1");
    check_refused(run(folder, command + " key.yaml --quiet"), "height");
    check_refused(run(folder, command + " number.yaml"), "190");
    check_refused(run(folder, command + " fan.yaml --quiet"), "fan");
  }
  CHECK(folder.names().size() == 4);
}

TEST_CASE("an out folder that cannot be written to is one sentence, exit 2") {
  const Folder folder;
  write(folder / "good.yaml", good);
  write(folder / "file", "");
  for (const std::string command : {"map", "fly"}) {
    check_refused(run(folder, command + " good.yaml --quiet --out file/below"), "--out");
    check_refused(run(folder, command + " good.yaml --quiet --out /proc/nothing"), "--out");
  }
  CHECK(folder.names().size() == 2);
}

TEST_CASE("a cut-short coil.h5 is one sentence, exit 2, and stays as it is") {
  const Folder folder;
  std::filesystem::copy(DRIFTGLOW_SOURCE_DIR "/tests/sheet/two_coils.yaml", folder / "two_coils.yaml");
  const auto first = run(folder, "map two_coils.yaml --quiet --json");
  CHECK(first.status == 0);
  CHECK(nlohmann::json::parse(first.out)["coil_map"]["origin"] == "computed");
  CHECK(nlohmann::json::parse(first.out)["coil_map"]["interpolation_error"].get<double>() <= 1e-4);
  const auto again = run(folder, "map two_coils.yaml --quiet --json");
  CHECK(nlohmann::json::parse(again.out)["coil_map"]["origin"] == "reused");
  const auto stored = folder.path() / "out/two_coils/coil.h5";
  std::filesystem::resize_file(stored, std::filesystem::file_size(stored) / 2);
  check_refused(run(folder, "fly two_coils.yaml --quiet"), "coil.h5");
}

TEST_CASE("keys and their schema") {
  const Folder folder;
  const auto keys = run(folder, "keys");
  CHECK(keys.status == 0);
  CHECK(keys.out.find("vessel.inner_diameter") != std::string::npos);
  const auto schema = nlohmann::json::parse(run(folder, "keys --json-schema").out);
  CHECK(schema["properties"].contains("vessel"));
}

TEST_CASE("sheet as text and as JSON, and nothing written") {
  const Folder folder;
  std::filesystem::copy(DRIFTGLOW_SOURCE_DIR "/tests/sheet/two_coils.yaml", folder / "two_coils.yaml");
  const auto text = run(folder, "sheet two_coils.yaml");
  CHECK(text.status == 0);
  CHECK(text.out.find("cautions") != std::string::npos);
  const auto json = nlohmann::json::parse(run(folder, "sheet two_coils.yaml --json").out);
  CHECK(json["drive"]["frequency"].get<double>() == relative(117.72e3, 3e-4));  // model.md section 8
  CHECK(folder.names().size() == 1);
}

TEST_CASE("fly writes its four files and one JSON document") {
  const Folder folder;
  write(folder / "good.yaml", good);
  const auto ended = run(folder, "fly good.yaml --json --threads 2");
  CAPTURE(ended.err);
  CHECK(ended.status == 0);
  CHECK_FALSE(nlohmann::json::parse(ended.out).empty());
  CHECK_FALSE(ended.err.empty());
  for (const char* name : {"flight.h5", "summary.csv", "summary.json", "report.html"}) {
    CHECK(std::filesystem::file_size(folder.path() / "out/good" / name) > 0);
  }
  const auto quiet = run(folder, "fly good.yaml --quiet --replicates 2 --out elsewhere");
  CHECK(quiet.status == 0);
  CHECK(quiet.err.empty());
  CHECK(quiet.out.find("2 replicates") != std::string::npos);
}

TEST_CASE("show makes the same report from a flight.h5 that was moved alone, and the charts' tables") {
  const Folder folder;
  bool demo = false;
  SUBCASE("the demo") {
    demo = true;
  }
  SUBCASE("a plain threshold, held") {}
  write(folder / "s.yaml",
        demo ? with(read(config("plankton_column.yaml")), "duration: 30 s", "duration: 2 s") : good);
  REQUIRE(run(folder, "fly s.yaml --out out --quiet").status == 0);
  std::filesystem::create_directory(folder / "moved");
  std::filesystem::copy_file(folder / "out/flight.h5", folder / "moved/flight.h5");
  const auto shown = run(folder, "show moved --csv");
  CAPTURE(shown.err);
  CHECK(shown.status == 0);
  CHECK(read(folder / "moved/report.html") == read(folder / "out/report.html"));
  for (const char* table : {"duty", "lit_at_once", "longest_dark", "light_by_colour", "spells", "pinned",
                            "glow_by_place", "field", "air"}) {
    CAPTURE(table);
    const auto text = read(folder / ("moved/csv/" + std::string(table) + ".csv"));
    CHECK(extent(text).lines >= 1);
    CHECK(text.find("nan") == std::string::npos);
  }
  const auto json = run(folder, "show moved/flight.h5 --json --quiet");
  CHECK(json.out == read(folder / "out/summary.json"));
}

TEST_CASE("show makes the same page from a study.h5 that was moved alone, and the charts' tables") {
  const Folder folder;
  write(folder / "demo.yaml", with(read(config("plankton_column.yaml")), "duration: 30 s\n  warmup: 3 s",
                                   "duration: 1 s\n  warmup: 0.2 s"));
  write(folder / "s.yaml",
        "scenario: demo.yaml\n"
        "vary: [{name: supply, key: drive.driver.supply, values: [20 V, 24 V]}]\n"
        "flights: {replicates: 2, most: 2}\n"
        "outputs: [{name: duty, path: 'flight.tag_designs[plankton].fits[yellow-green].duty'}]\n");
  REQUIRE(run(folder, "vary s.yaml --out out --quiet").status == 0);
  std::filesystem::create_directory(folder / "moved");
  std::filesystem::copy_file(folder / "out/study.h5", folder / "moved/study.h5");
  const auto shown = run(folder, "show moved --csv");
  CAPTURE(shown.err);
  CHECK(shown.status == 0);
  CHECK(read(folder / "moved/report.html") == read(folder / "out/report.html"));
  for (const char* table : {"ranking", "pareto", "main_effects", "sobol_indices"}) {
    CAPTURE(table);
    CHECK(extent(read(folder / ("moved/csv/" + std::string(table) + ".csv"))).lines >= 2);
  }
  const auto json = run(folder, "show moved/study.h5 --json --quiet");
  CHECK(nlohmann::json::parse(json.out) == nlohmann::json::parse(read(folder / "out/study.json")));
  REQUIRE(run(folder, "vary s.yaml --part 1/2 --out part --quiet").status == 0);
  check_refused(run(folder, "show part"), "driftglow join");
}

TEST_CASE("show refuses what is no flight in one sentence") {
  const Folder folder;
  check_refused(run(folder, "show nowhere.h5"), "nowhere.h5: there is no such file");
  write(folder / "flight.h5", "not HDF5");
  check_refused(run(folder, "show flight.h5"), "fly the scenario again");
}

TEST_CASE("a full standard output is a failure of ours in one sentence") {
  const Folder folder;
  const Folder streams;
  const std::string command = DRIFTGLOW_PROGRAM " keys > /dev/full 2> '" + (streams / "err").string() + "'";
  const int status = std::system(command.c_str());
  CHECK(WEXITSTATUS(status) == 1);
  CHECK(extent(read(streams / "err")).lines == 1);
}

TEST_CASE("an interrupted flight keeps the finished replicates and ends with 130") {
  const Folder folder;
  write(folder / "long.yaml",
        with(good, "duration: 1 s, warmup: 0 s, replicates: 3", "duration: 10 s, replicates: 100000"));
  // `timeout` of coreutils sends SIGINT, with --foreground once; --preserve-status hands on the program's
  // status.
  const Folder streams;
  const std::string command = "cd '" + folder.path().string() +
                              "' && timeout --foreground --preserve-status -s INT 3 " DRIFTGLOW_PROGRAM
                              " fly long.yaml --json > '" +
                              (streams / "out").string() + "' 2> '" + (streams / "err").string() + "'";
  const int status = std::system(command.c_str());
  CAPTURE(read(streams / "err"));
  CHECK(WEXITSTATUS(status) == 130);
  CHECK(read(streams / "err").find("interrupted") != std::string::npos);
  CHECK_FALSE(nlohmann::json::parse(read(streams / "out")).empty());
  CHECK(std::filesystem::exists(folder.path() / "out/long/flight.h5"));
}

TEST_CASE("a full disk is a failure of ours in one sentence and leaves nothing half-written") {
  const Folder folder;
  write(folder / "good.yaml", good);
  const store::SizeLimit limit(8192);
  const auto ended = run(folder, "fly good.yaml --quiet");
  CAPTURE(ended.err);
  CHECK(ended.status == 1);
  CHECK(extent(ended.err).lines == 1);
  for (const char* name : {"flight.h5", "summary.csv", "summary.json", "report.html"}) {
    CHECK_FALSE(std::filesystem::exists(folder.path() / "out/good" / name));
  }
}

TEST_CASE(
    "large tags are placed by drawing all of them anew, tracers with a circuit fly, a missed target is "
    "told") {
  const Folder folder;
  write(folder / "large.yaml",
        "vessel: {inner_diameter: 190 mm, height: 320 mm}\n"
        "drive: {field: {flux_density: 40 uT, frequency: 118 kHz}}\n"
        "air: {flow_rate: 0.01 m3/s}\n"
        "tags: [{name: large, count: 2, body: {radius: 65 mm, mass: 3 g}, receiver: {threshold_flux_density: "
        "18 uT}}]\n"
        "flight: {duration: 1 s, warmup: 0 s, replicates: 8, target_interval: 0.001 %}\n");
  const auto large = run(folder, "fly large.yaml --quiet");
  CAPTURE(large.err);
  CHECK(large.status == 0);
  CHECK(large.out.find("was not reached") != std::string::npos);
  auto demo = with(read(config("plankton_column.yaml")), "duration: 30 s", "duration: 1 s");
  const auto body = demo.find("      radius: 15 mm"), end = demo.find("    receiver:");
  demo.replace(body, end - body, "      kind: tracer\n");
  CHECK(fly(folder, demo, "--replicates 2")["tag_designs"][0]["fits"][0]["duty"]["mean"].get<double>() > 0.1);
}
