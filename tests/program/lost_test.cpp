#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <sstream>
#include <string>
#include <vector>

#include "sim/store/hdf5_file.hpp"
#include "tests/instruction_sets.hpp"
#include "tests/program/written.hpp"
#include "tests/relative.hpp"

// Tags and replicates that go wrong, in the program with faults on purpose (faults.cpp). What is right is
// what the same program does without them, and counts by hand.

using namespace driftglow;
using namespace driftglow::program_test;

namespace {

class Faults {
 public:
  explicit Faults(const std::string& given) { ::setenv("DRIFTGLOW_FAULTS", given.c_str(), 1); }
  ~Faults() { ::unsetenv("DRIFTGLOW_FAULTS"); }
  Faults(const Faults&) = delete;
  Faults& operator=(const Faults&) = delete;
};

// Six replicates of twelve tags, 2 s of 1 ms.
std::string demo() {
  return with(with(with(read(config("plankton_column.yaml")), "duration: 30 s\n  warmup: 3 s",
                        "duration: 2 s\n  warmup: 0.3 s"),
                   "replicates: 24", "replicates: 6"),
              "trace: {replicates: 1, interval: 20 ms}",
              "lost_limit: 5 %\n  trace: {replicates: 6, interval: 20 ms}");
}

std::vector<double> duties(const Folder& folder, const std::string& out) {
  return store::Reader(folder / out / "flight.h5", "")
      .read<double>("/duty_by_tag/plankton/yellow-green", 2)
      .values;
}

std::vector<double> places(const Folder& folder, const std::string& out, int replicate) {
  return store::Reader(folder / out / "flight.h5", "")
      .read<double>("/trace/" + std::to_string(replicate) + "/place", 3)
      .values;
}

std::vector<std::vector<std::string>> rows(const std::string& csv) {
  std::vector<std::vector<std::string>> all;
  std::istringstream lines(csv);
  for (std::string line; std::getline(lines, line);) {
    auto& row = all.emplace_back(1);
    for (const char c : line) {
      if (c == ',') {
        row.emplace_back();
      } else {
        row.back() += c;
      }
    }
  }
  return all;
}

}  // namespace

TEST_CASE("a lost tag is counted, told and leaves all others as they were") {
  const Folder folder;
  write(folder / "demo.yaml", demo());
  REQUIRE(run(folder, "fly demo.yaml --quiet --out whole").status == 0);
  const auto whole = duties(folder, "whole");
  std::string why, kind;
  SUBCASE("velocity") {
    kind = "velocity", why = "has a state that is no longer a finite number";
  }
  SUBCASE("spin, which contact would hand on") {
    kind = "spin", why = "has a state that is no longer a finite number";
  }
  SUBCASE("far") {
    kind = "far", why = "is outside the vessel";
  }
  const Faults faults(kind + " 2 5 1000");
  const auto ended = run(folder, "fly demo.yaml --quiet --out lost");
  REQUIRE_MESSAGE(ended.status == 0, ended.err);
  CHECK(ended.out.find("1 of 72 tags were lost on the way (1.4 %): the first, tag 5 of replicate 2, " +
                       why) != std::string::npos);
  const auto summary = nlohmann::json::parse(read(folder / "lost/summary.json"));
  CHECK(summary["lost"]["tags"] == 1);
  CHECK(summary["lost"]["of"] == 72);
  CHECK(summary["lost"]["share"] == relative(1.0 / 72.0, 1e-12));
  const auto& each = summary["lost"]["each"];
  REQUIRE(each.size() == 1);
  CHECK(each[0]["replicate"] == 2);
  CHECK(each[0]["tag"] == 5);
  CHECK(each[0]["why"] == why);
  // Looked for every 10 ms.
  const double time = each[0]["time_s"];
  CHECK(time > 1.0);
  CHECK(time <= 1.0111);

  // All tags of other vessels are as they were, and all that the lost one had not met by then.
  const auto lost = duties(folder, "lost");
  REQUIRE(lost.size() == 72);
  for (std::size_t i = 0; i < lost.size(); ++i) {
    CAPTURE(i);
    CHECK(std::isfinite(lost[i]));
    if (i / 12 != 2) CHECK(lost[i] == whole[i]);
  }
  const auto before = places(folder, "whole", 2), after = places(folder, "lost", 2);
  REQUIRE(before.size() == after.size());
  for (std::size_t i = 0; i < before.size(); ++i) {
    const std::size_t sample = i / 36, tag = i / 3 % 12;  // every 20 ms
    if (sample < 50) CHECK(after[i] == before[i]);
    if (tag != 5) CHECK(std::isfinite(after[i]));
    if (tag == 5 && sample > 51) CHECK(std::isnan(after[i]));
  }

  // What counts of it is the flight up to then, but for the steps until it was found, in which one without a
  // number is dark and one far off sees some field; the design's duty is the time lit over the time flown.
  write(folder / "short.yaml", with(demo(), "duration: 2 s", "duration: " + std::to_string(time) + " s"));
  ::unsetenv("DRIFTGLOW_FAULTS");
  REQUIRE(run(folder, "fly short.yaml --quiet --out short").status == 0);
  const double on = lost[2 * 12 + 5] * time, on_until_then = duties(folder, "short")[2 * 12 + 5] * time;
  CHECK(on <= on_until_then + (kind == "far" ? 0.0111 : 1e-9));
  CHECK(on >= on_until_then - 0.0111);
  double lit = on;
  for (int tag = 0; tag < 12; ++tag) lit += tag == 5 ? 0.0 : 2.0 * lost[2 * 12 + tag];
  const auto duty =
      store::Reader(folder / "lost/flight.h5", "").read<double>("/duty/plankton/yellow-green", 1);
  CHECK(duty.values[2] == relative(lit / (11.0 * 2.0 + time), 1e-12));

  const auto shown = read(folder / "lost/report.html");
  CHECK(shown.find("1 of 72 tags were lost on the way") != std::string::npos);
  REQUIRE(run(folder, "show lost --quiet --out shown").status == 0);
  CHECK(read(folder / "shown/report.html") == shown);
}

TEST_CASE("a tag lost in the warm-up counts nowhere, one too fast is told so") {
  const Folder folder;
  write(folder / "demo.yaml", demo());
  const Faults faults("velocity 1 3 -100 fast 4 0 1040");
  REQUIRE(run(folder, "fly demo.yaml --quiet --out lost").status == 0);
  const auto summary = nlohmann::json::parse(read(folder / "lost/summary.json"));
  REQUIRE(summary["lost"]["tags"] == 2);
  CHECK(summary["lost"]["each"][0]["time_s"] == 0.0);
  CHECK(summary["lost"]["each"][1]["why"] == "moves faster than sound");
  CHECK(std::isnan(duties(folder, "lost")[1 * 12 + 3]));
  for (const auto& fit : summary["tag_designs"][0]["fits"]) {
    CHECK(fit["duty"]["replicates"] == 6);
    CHECK(fit["duty_by_tag"][3]["replicates"] == 5);
    CHECK(fit["mean_light_cd"]["mean"] > 0.0);
  }
}

TEST_CASE("losses give the same bytes on any number of threads, in both fused packs, joined and resumed") {
  const Folder folder;
  std::string scenario = demo();
  SUBCASE("uncoupled") {}
  SUBCASE("coupled, where all see all") {
    scenario =
        with(with(scenario, "flight:\n", "flight:\n  coupling: on\n"), "duration: 2 s", "duration: 1.2 s");
  }
  write(folder / "demo.yaml", scenario);
  const Faults faults("spin 0 1 200 velocity 2 5 1000 far 5 11 0");
  REQUIRE(run(folder, "fly demo.yaml --quiet --threads 1 --out one").status == 0);
  const std::string narrower = available(flight::InstructionSet::avx2) ? " --instructions avx2" : "";
  REQUIRE(run(folder, "fly demo.yaml --quiet --threads 2 --out two" + narrower).status == 0);
  CHECK((written(folder / "one") == written(folder / "two")));
  for (const char* part : {"1", "2"})
    REQUIRE(
        run(folder, std::string("fly demo.yaml --quiet --part ") + part + "/2 --out part" + part).status ==
        0);
  REQUIRE(run(folder, "join part1 part2 --quiet --out joined").status == 0);
  CHECK((written(folder / "one") == written(folder / "joined")));
  if (scenario != demo()) return;
  for (const char* set : {"scalar", "baseline"}) {
    CHECK(run(folder, std::string("fly demo.yaml --quiet --out other --instructions ") + set).status == 0);
    CHECK(nlohmann::json::parse(read(folder / "other/summary.json"))["lost"]["tags"] == 3);
  }
}

TEST_CASE("more lost tags than the limit allows: no results, and the sentence says where to look") {
  const Folder folder;
  write(folder / "demo.yaml", with(demo(), "  lost_limit: 5 %\n", ""));
  const Faults faults("velocity 2 5 1000");
  const auto ended = run(folder, "fly demo.yaml --quiet --out lost");
  CHECK(ended.status == 1);
  CHECK(ended.err.find("1 of 72 tags were lost (1.4 %), more than `flight.lost_limit` allows (1 %)") !=
        std::string::npos);
  CHECK(ended.err.find("--only 2:5 --trace") != std::string::npos);
  CHECK(std::count(ended.err.begin(), ended.err.end(), '\n') == 1);
  for (const char* file : {"flight.h5", "summary.json", "summary.csv", "report.html"})
    CHECK_FALSE(std::filesystem::exists(folder / "lost" / file));

  const auto only = run(folder, "fly demo.yaml --quiet --out lost --only 2:5 --trace --json");
  REQUIRE_MESSAGE(only.status == 0, only.err);
  const auto told = nlohmann::json::parse(only.out);
  CHECK(told["tag_design"] == "plankton");
  CHECK(told["lost"]["why"] == "has a state that is no longer a finite number");
  const auto path = rows(read(folder / "lost/path_2_5.csv"));
  // 300 steps of warm-up, then up to the step that went wrong, which ends it.
  REQUIRE(path.size() == 1 + 300 + 1001);
  CHECK(path.back()[0] == "1.001");
  // What went wrong is the velocity; the place follows a step later.
  CHECK(path[0][4] == "v_x_m_per_s");
  CHECK(path.back()[4].empty());
  CHECK_FALSE(path.back()[1].empty());
  for (std::size_t i = 1; i + 1 < path.size(); ++i) CHECK_FALSE(path[i][4].empty());
}

TEST_CASE("one tag alone flies as in the whole flight") {
  const Folder folder;
  write(folder / "demo.yaml", demo());
  REQUIRE(run(folder, "fly demo.yaml --quiet --out out").status == 0);
  const auto flight = store::file_text(folder / "out/flight.h5");
  const auto only = run(folder, "fly demo.yaml --quiet --out out --only 3:7 --trace --json");
  REQUIRE_MESSAGE(only.status == 0, only.err);
  CHECK(store::file_text(folder / "out/flight.h5") == flight);
  const auto told = nlohmann::json::parse(only.out);
  CHECK(told["lost"].is_null());
  CHECK(told["fits"][0]["duty"] == duties(folder, "out")[3 * 12 + 7]);
  const auto path = rows(read(folder / "out/path_3_7.csv"));
  REQUIRE(path.size() == 1 + 300 + 2000);
  const store::Reader file(folder / "out/flight.h5", "");
  const auto times = file.read<double>("/trace/3/time", 1).values;
  const auto place = file.read<double>("/trace/3/place", 3).values;
  const auto axis = file.read<double>("/trace/3/axis", 3).values;
  const auto linkage = file.read<double>("/trace/3/linkage", 2).values;
  const auto lit = file.read<std::uint8_t>("/trace/3/lit", 2).values;
  REQUIRE(times.size() == 100);
  for (std::size_t sample = 0; sample < times.size(); ++sample) {
    const auto& row = path[300 + static_cast<std::size_t>(std::lround(times[sample] / 0.001))];
    CHECK(std::stod(row[0]) == relative(times[sample], 1e-9));
    for (std::size_t k = 0; k < 3; ++k) {
      CHECK(std::stod(row[1 + k]) == place[sample * 36 + 7 * 3 + k]);
      CHECK(std::stod(row[7 + k]) == axis[sample * 36 + 7 * 3 + k]);
    }
    CHECK(std::stod(row[13]) == relative(linkage[sample * 12 + 7], 1e-7));
    CHECK(std::stoi(row[14]) + 2 * std::stoi(row[15]) == lit[sample * 12 + 7]);
  }

  const auto refused = [&](const std::string& options, const std::string& sentence) {
    const auto ended = run(folder, "fly demo.yaml --quiet --out out " + options);
    CHECK(ended.status == 2);
    CHECK_MESSAGE(ended.err.find(sentence) != std::string::npos, ended.err);
  };
  refused("--only 6:0", "expected a replicate from 0 to 5 and a tag from 0 to 11");
  refused("--only 0:12", "expected a replicate from 0 to 5 and a tag from 0 to 11");
  refused("--only 3", "expected REPLICATE:TAG such as 3:11");
  refused("--trace", "--only");
  refused("--only 0:0 --resume", "--resume");
}

TEST_CASE("a replicate that fails does not take the finished ones with it") {
  const Folder folder;
  write(folder / "demo.yaml", with(demo(), "replicates: 6\n  seed", "replicates: 48\n  seed"));
  REQUIRE(run(folder, "fly demo.yaml --quiet --out straight").status == 0);
  std::string kept;
  {
    const Faults faults("throw 45 0 1500");
    const auto ended = run(folder, "fly demo.yaml --threads 1 --out out");
    CHECK(ended.status == 1);
    CHECK(ended.err.find("a fault on purpose") != std::string::npos);
    CHECK(ended.err.find(" finished replicates are kept; --resume goes on with them") != std::string::npos);
    CHECK_FALSE(std::filesystem::exists(folder / "out/summary.json"));
  }
  const auto resumed = run(folder, "fly demo.yaml --out out --resume");
  CHECK(resumed.status == 0);
  CHECK(resumed.err.find("going on after ") != std::string::npos);
  CHECK((written(folder / "out") == written(folder / "straight")));
}

TEST_CASE("a design whose tags get lost is refused in a study, the others are not") {
  const Folder folder;
  write(folder / "demo.yaml", with(demo(), "  lost_limit: 5 %\n", ""));
  write(folder / "study.yaml", R"(
scenario: demo.yaml
vary:
  - {name: step, key: flight.step, values: [1 ms, 2 ms]}
outputs: [{name: duty, path: "flight.tag_designs[plankton].fits[yellow-green].duty"}]
goal: [{output: duty, want: most}]
flights: {replicates: 6}
)");
  // At 2 ms the flight ends before step 1000.
  const Faults faults("velocity 2 5 1000");
  const auto ended = run(folder, "vary study.yaml --quiet --out out --json");
  REQUIRE_MESSAGE(ended.status == 0, ended.err);
  const auto designs = nlohmann::json::parse(ended.out)["designs"];
  REQUIRE(designs.size() == 2);
  const std::string refused = designs[0]["refused"];
  CHECK_MESSAGE(
      refused.find("1 of 72 tags were lost (1.4 %), more than `flight.lost_limit` allows (1 %)") == 0,
      refused);
  CHECK(refused.find("--only 2:5 --trace") != std::string::npos);
  CHECK_FALSE(designs[0].contains("outputs"));
  CHECK_FALSE(designs[1].contains("refused"));
  CHECK(designs[1]["rank"] == 1);
  CHECK(designs[1]["outputs"]["duty"]["mean"] > 0.3);
}
