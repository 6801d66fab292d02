#include <doctest/doctest.h>

#include <cmath>

#include "sim/store/hdf5_file.hpp"
#include "tests/program/run.hpp"

using namespace driftglow;
using namespace driftglow::program_test;

TEST_CASE("the demo gives the same bytes at 1, 2 and 7 threads") {
  const Folder folder;
  const std::string demo = with(read(config("plankton_column.yaml")), "duration: 30 s", "duration: 3 s");
  std::string first[3], digest;
  for (const int threads : {1, 2, 7}) {
    fly(folder, demo, "--replicates 9 --threads " + std::to_string(threads));
    const char* names[3] = {"summary.csv", "summary.json", "report.html"};
    for (int i = 0; i < 3; ++i) {
      const std::string text = read(folder.path() / "out" / names[i]);
      if (threads == 1) first[i] = text;
      CHECK_MESSAGE(text == first[i], names[i]);
    }
    const std::string content = store::Reader(folder.path() / "out" / "flight.h5", "").content_digest();
    if (threads == 1) digest = content;
    CHECK(content == digest);
  }
  fly(folder, demo, "--replicates 9 --seed 2");
  CHECK(read(folder.path() / "out" / "summary.csv") != first[0]);
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
    const auto coarse = fly(folder, text, "--replicates 16");
    const auto fine = fly(folder, with(text, "step: 1 ms", "step: 0.5 ms"), "--replicates 16");
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
