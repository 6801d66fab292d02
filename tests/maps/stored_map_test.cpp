#include <doctest/doctest.h>

#include <cmath>
#include <functional>
#include <string>
#include <vector>

#include "models/error.hpp"
#include "sim/maps/stored_maps.hpp"
#include "sim/store/hdf5_file.hpp"
#include "tests/store/folder.hpp"

using namespace driftglow;

// Files that end in the right digest and are yet not as ours are: from another version, from a script.
namespace {

struct Contents {
  std::vector<double> r{0.0, 0.025, 0.05, 0.075, 0.1}, z{0.0, 0.1, 0.2, 0.3};
  std::vector<double> values = std::vector<double>(20, 1e-5);
  store::Extents extents{5, 4};
  double error = 1e-5;
};

std::string refusal(const std::function<void(Contents&)>& change) {
  const store::Folder folder;
  Contents contents;
  change(contents);
  {
    store::Writer file(folder / "coil.h5", {"0", "title: x\n", "00", 1});
    file.write("/axes/r", contents.r, {contents.r.size()}, {"m", "radius"});
    file.write("/axes/z", contents.z, {contents.z.size()}, {"m", "height"});
    for (const char* name : {"/circuit/main/B_r_over_r", "/circuit/main/B_z"})
      file.write(name, contents.values, contents.extents, {"T/A", "field"});
    file.set_number("/check", "interpolation_error", contents.error, "1");
    file.set_number("/check", "rms_flux_density", 1e-5, "T/A");
    file.commit(store::start_run(1));
  }
  const store::Reader file(folder / "coil.h5", "remove it");
  return store::message_of<InputError>([&] { maps::read_coil_map(file, "main"); });
}

bool says(const std::string& sentence, const std::string& part) {
  return sentence.find("coil.h5: ") != std::string::npos && sentence.find(part) != std::string::npos &&
         sentence.ends_with("; remove it");
}

}  // namespace

TEST_CASE("a stored map that does not fit together is refused in a sentence") {
  CHECK(refusal([](Contents&) {}) == "");
  CHECK(says(refusal([](Contents& c) { c.r = {}; }), "/axes/r is no rising axis of 4 nodes or more"));
  CHECK(says(refusal([](Contents& c) { c.z = {0.3}; }), "/axes/z is no rising axis of 4 nodes or more"));
  CHECK(says(refusal([](Contents& c) { c.z = {0.3, 0.2, 0.1, 0.0}; }), "/axes/z is no rising axis"));
  CHECK(says(refusal([](Contents& c) { c.z[1] = 0.15; }), "/axes/z is not even"));
  CHECK(says(refusal([](Contents& c) { c.z[3] = std::nan(""); }), "/axes/z has a value that is not finite"));
  CHECK(says(refusal([](Contents& c) {
               for (double& r : c.r) r += 0.1;
             }),
             "/axes/r does not begin on the axis"));
  CHECK(says(refusal([](Contents& c) { c.extents = {4, 5}; }), "B_r_over_r does not fit its axes"));
  CHECK(says(refusal([](Contents& c) { c.values[7] = HUGE_VAL; }),
             "B_r_over_r has a value that is not finite"));
  CHECK(
      says(refusal([](Contents& c) { c.error = std::nan(""); }), "/check@interpolation_error is not finite"));
}
