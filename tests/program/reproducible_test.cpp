#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "tests/instruction_sets.hpp"
#include "tests/program/written.hpp"

using namespace driftglow;
using namespace driftglow::program_test;

namespace {

Written flown(const std::string& scenario, const std::string& options) {
  const Folder folder;
  fly(folder, scenario, options);
  return written(folder / "out");
}

}  // namespace

// 125 replicates are more blocks than threads for the widest pack, the last one part-filled.
TEST_CASE("the demo gives the same bytes at 1, 2 and 7 threads") {
  const std::string demo = short_demo("1 s");
  const Written one = flown(demo, "--replicates 125 --threads 1");
  for (const char* threads : {"2", "7"})
    CHECK((flown(demo, std::string("--replicates 125 --threads ") + threads) == one));
  CHECK(flown(demo, "--replicates 125 --seed 2").csv != one.csv);
}

TEST_CASE("a target interval stops at the same replicate at 1, 2 and 7 threads") {
  const std::string demo =
      with(short_demo("2 s"), "replicates: 24", "replicates: 2000\n  target_interval: 0.6 %");
  const Written one = flown(demo, "--threads 1");
  const auto replicates = nlohmann::json::parse(one.json)["tag_designs"][0]["fits"][0]["duty"]["replicates"];
  CHECK(replicates.get<int>() > 32);
  CHECK(replicates.get<int>() < 2000);
  for (const char* threads : {"2", "7"}) CHECK((flown(demo, std::string("--threads ") + threads) == one));
}

TEST_CASE("avx2 and avx512 give the same bytes") {
  if (!available(flight::InstructionSet::avx512)) {
    MESSAGE("this machine has no AVX-512: not tested");
    return;
  }
  const std::string demo = short_demo("3 s");
  CHECK((flown(demo, "--replicates 21 --instructions avx2") ==
         flown(demo, "--replicates 21 --instructions avx512")));
}

// Collisions part the flights of the scalar reference and of the lanes after some tenths of a second; their
// duties must still be those of one model: within the combined 95 % intervals, each of at most +-0.1 %. Many
// short flights, since the tolerances of the tags do not average out within one. A threshold or a field wrong
// by 0.5 % would show (exact_test.cpp).
TEST_CASE("scalar and lanes agree on the duty" * doctest::skip(instrumented)) {
  const Folder folder;
  const std::string demo = with(short_demo("2 s"), "warmup: 3 s", "warmup: 0.5 s");
  const auto lanes = fly(folder, demo, "--replicates 3600");
  const auto scalar = fly(folder, demo, "--replicates 3600 --instructions scalar");
  for (int f = 0; f < 2; ++f) {
    const auto& a = lanes["tag_designs"][0]["fits"][f]["duty"];
    const auto& b = scalar["tag_designs"][0]["fits"][f]["duty"];
    const double half_a = a["half_width_95"].get<double>(), half_b = b["half_width_95"].get<double>();
    CHECK(half_a <= 0.001);
    CHECK(half_b <= 0.001);
    CHECK(std::fabs(a["mean"].get<double>() - b["mean"].get<double>()) <= std::hypot(half_a, half_b));
  }
}

TEST_CASE("a stored coil map is reused, gives the same result, and is computed anew when a coil moves") {
  const Folder folder;
  const std::string demo = with(read(config("plankton_column.yaml")), "duration: 30 s", "duration: 1 s");
  const auto coil = folder.path() / "out" / "coil.h5";
  const auto computed = fly(folder, demo, "--replicates 2");
  const std::string map = read(coil);
  CHECK(fly(folder, demo, "--replicates 2") == computed);
  CHECK(read(coil) == map);
  fly(folder, with(demo, "height: 85 mm", "height: 90 mm"), "--replicates 2");
  CHECK(read(coil) != map);
}

// model.md 5: halving the step moves no duty by more than its interval at 1 %, lively and stuck. The pinned
// share of the stuck vessel must hold to 3 points, where a rule of rest that depends on the step shifts it
// by 10.
TEST_CASE("halving the step moves neither duty nor the share of stuck tags") {
  const Folder folder;
  const std::string lively = read(config("plankton_column.yaml"));
  const std::string stuck = with(lively, "flow_rate: 0.07 m3/s", "flow_rate: 0.045 m3/s");
  for (const bool lies : {false, true}) {
    const std::string& text = lies ? stuck : lively;
    const auto coarse = fly(folder, text, "--replicates 32");
    const auto fine = fly(folder, with(text, "step: 1 ms", "step: 0.5 ms"), "--replicates 32");
    const auto& a = coarse["tag_designs"][0];
    const auto& b = fine["tag_designs"][0];
    for (int f = 0; f < 2; ++f) {
      const auto& p = a["fits"][f]["duty"];
      const auto& q = b["fits"][f]["duty"];
      CHECK(p["half_width_95"].get<double>() < 0.01);
      CHECK(std::fabs(p["mean"].get<double>() - q["mean"].get<double>()) <= 0.01);
    }
    const double pinned = a["pinned_share"]["mean"].get<double>();
    if (lies) CHECK(pinned > 0.1);
    CHECK(std::fabs(pinned - b["pinned_share"]["mean"].get<double>()) <= 0.03);
  }
}
