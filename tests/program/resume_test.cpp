#include <doctest/doctest.h>

#include <algorithm>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <random>
#include <string>
#include <thread>

#include "sim/store/hdf5_file.hpp"
#include "tests/program/written.hpp"

// Expected is the straight run's result, byte for byte.

using namespace driftglow;
using namespace driftglow::program_test;

namespace {

const std::string& demo() {
  static const std::string text = with(read(config("plankton_column.yaml")), "duration: 30 s\n  warmup: 3 s",
                                       "duration: 1 s\n  warmup: 0.2 s");
  return text;
}

// `driftglow <arguments>` killed by SIGKILL after so many seconds; whether it had ended before.
bool ended_before_kill(const Folder& folder, const std::string& arguments, double seconds) {
  const std::string command = "cd '" + folder.path().string() + "' && timeout --foreground -s KILL " +
                              std::to_string(seconds) + " " DRIFTGLOW_PROGRAM " " + arguments +
                              " >/dev/null 2>&1 </dev/null";
  const int status = std::system(command.c_str());
  return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

Ended refused(const Folder& folder, const std::string& arguments, const std::string& sentence) {
  const auto ended = run(folder, arguments);
  CAPTURE(ended.err);
  CHECK(ended.status == 2);
  CHECK(ended.err.find(sentence) != std::string::npos);
  CHECK(std::count(ended.err.begin(), ended.err.end(), '\n') == 1);
  return ended;
}

}  // namespace

TEST_CASE("a flight killed at 20 random moments ends with the bytes of the straight run" *
          doctest::skip(instrumented)) {
  const Folder folder;
  write(folder / "demo.yaml", demo());
  const std::string fly = "fly demo.yaml --quiet --replicates 2000 ";
  const auto straight = run(folder, fly + "--out straight");
  REQUIRE_MESSAGE(straight.status == 0, straight.err);
  const Written expected = written(folder / "straight");
  std::mt19937 generator(7);
  // From before the first block is kept to the writing of the results.
  std::uniform_real_distribution<double> moment(0.05, std::max(1.6, 1.1 * straight.seconds));
  const std::string thread_counts[] = {"1", "2", "7"};
  int whole = 0;
  for (int kill = 0; kill < 20; ++kill) {
    const std::string threads = thread_counts[kill % 3];
    if (!ended_before_kill(folder, fly + "--out out --resume --threads " + threads, moment(generator)))
      continue;
    CHECK((written(folder / "out") == expected));
    CHECK_FALSE(std::filesystem::exists(folder / "out/flight.unfinished"));
    std::filesystem::remove_all(folder / "out");
    ++whole;
  }
  CHECK(whole < 20);
  const auto last = run(folder, fly + "--out out --resume");
  REQUIRE_MESSAGE(last.status == 0, last.err);
  CHECK((written(folder / "out") == expected));
  // Nothing of the killed runs is left.
  for (const auto& entry : std::filesystem::directory_iterator(folder / "out"))
    CHECK(entry.path().filename().string().front() != '.');
}

TEST_CASE("a flight to a target interval goes on to the same stop") {
  const Folder folder;
  write(folder / "demo.yaml", with(demo(), "replicates: 24", "replicates: 4000\n  target_interval: 0.4 %"));
  const std::string fly = "fly demo.yaml --quiet ";
  REQUIRE(run(folder, fly + "--out straight").status == 0);
  bool ended = false;
  for (int i = 0; i < 3 && !ended; ++i) ended = ended_before_kill(folder, fly + "--out out --resume", 1.3);
  CHECK(run(folder, fly + "--out out --resume --threads 2").status == 0);
  CHECK((written(folder / "out") == written(folder / "straight")));
  refused(folder, fly + "--part 1/2 --out part", "flight.target_interval");
}

TEST_CASE("an interrupted flight is refused anew, goes on with --resume, and a finished one is left alone") {
  const Folder folder;
  write(folder / "demo.yaml", demo());
  write(folder / "other.yaml", with(demo(), "supply: 24 V", "supply: 23 V"));
  const std::string options = " --quiet --replicates 3000 --out out";
  // After the first block and before the last, wherever they are on this machine now.
  bool kept = false;
  for (int milliseconds = 1; !kept && milliseconds < 5000; milliseconds *= 2) {
    Beside flight(folder, "fly demo.yaml --threads 1" + options);
    REQUIRE(flight.runs_until([&] { return std::filesystem::exists(folder / "out/flight.unfinished"); }));
    std::this_thread::sleep_for(std::chrono::milliseconds(milliseconds));
    kept = flight.end(SIGINT) == 130 && std::filesystem::exists(folder / "out/flight.unfinished");
  }
  REQUIRE(kept);
  refused(folder, "fly demo.yaml" + options, "--resume");
  refused(folder, "fly other.yaml --resume" + options, "drive.driver.supply is `24 V` there and `23 V` here");
  refused(folder, "fly demo.yaml --seed 5 --resume" + options, "seed is 20261125 there and 5 here");
  refused(folder, "fly demo.yaml --instructions scalar --resume" + options, "--instructions");
  refused(folder, "fly demo.yaml --quiet --replicates 2999 --out out --resume",
          "replicates is 3000 there and 2999 here");
  refused(folder, "fly demo.yaml --resume --part 1/2" + options, "--part is left out there and 1/2 here");
  REQUIRE(run(folder, "fly demo.yaml --resume" + options).status == 0);
  const auto before = std::filesystem::last_write_time(folder / "out");
  const auto flight_before = std::filesystem::last_write_time(folder / "out/flight.h5");
  const auto again = run(folder, "fly demo.yaml --resume --replicates 3000 --out out");
  CHECK(again.status == 0);
  CHECK(again.err.find("finished") != std::string::npos);
  CHECK(std::filesystem::last_write_time(folder / "out") == before);
  CHECK(std::filesystem::last_write_time(folder / "out/flight.h5") == flight_before);
  refused(folder, "fly other.yaml --resume" + options, "drive.driver.supply");
}

TEST_CASE("two runs in one folder are refused") {
  const Folder folder;
  write(folder / "demo.yaml", demo());
  Beside first(folder, "fly demo.yaml --quiet --replicates 100000 --out out");
  REQUIRE(first.runs_until([&] { return std::filesystem::exists(folder / "out/coil.h5"); }));
  refused(folder, "fly demo.yaml --quiet --replicates 4 --out out", "another run");
}

TEST_CASE("four parts joined are the unsplit flight, byte for byte") {
  const Folder folder;
  write(folder / "demo.yaml", demo());
  const std::string fly = "fly demo.yaml --quiet --replicates 61 --seed 9 ";
  REQUIRE(run(folder, fly + "--out whole").status == 0);
  for (const std::string k : {"3", "1", "4", "2"})
    REQUIRE(run(folder, fly + "--threads " + k + " --part " + k + "/4").status == 0);
  const std::string parts = "out/demo/part_2_of_4 out/demo/part_1_of_4/flight.h5 out/demo/part_4_of_4 ";
  const auto joined = run(folder, "join --quiet --out joined out/demo/part_3_of_4 " + parts);
  REQUIRE_MESSAGE(joined.status == 0, joined.err);
  CHECK((written(folder / "joined") == written(folder / "whole")));

  refused(folder, "join --quiet --out no " + parts, "part 3 of 4 is missing");
  refused(folder, "join --quiet --out no out/demo/part_2_of_4 " + parts, "expected every part once");
  refused(folder, "join --quiet --out no whole " + parts,
          "whole/flight.h5: is a whole flight and no part of one");
  std::filesystem::create_directories(folder / "other");
  write(folder / "other/demo.yaml", with(demo(), "restitution: 0.5", "restitution: 0.6"));
  REQUIRE(run(folder, "fly other/demo.yaml --quiet --seed 9 --replicates 61 --part 3/4 --out other").status ==
          0);
  refused(folder, "join --quiet --out no other " + parts, "tags[1].body.restitution");
  REQUIRE(run(folder, "fly demo.yaml --quiet --replicates 61 --part 3/4 --out other").status == 0);
  refused(folder, "join --quiet --out no other " + parts, "seed");
  CHECK_FALSE(std::filesystem::exists(folder / "no"));
  refused(folder, "fly demo.yaml --part 5/4", "K/N");
  refused(folder, "fly demo.yaml --replicates 3 --part 1/4", "expected at most 3");
}
