#include <doctest/doctest.h>

#include <algorithm>
#include <fstream>
#include <iterator>
#include <string>

#include "tests/fuzz/targets.hpp"

using namespace driftglow;

// What the fuzzer starts from, and what it has found. A target throws where a reader breaks its promises.
TEST_CASE("readers take or refuse every seed") {
  const std::filesystem::path seeds = std::filesystem::path(DRIFTGLOW_SOURCE_DIR) / "tests/fuzz/seeds";
  for (const auto& target : fuzz::targets()) {
    std::vector<std::filesystem::path> files;
    for (const auto& entry : std::filesystem::directory_iterator(seeds / target.name))
      files.push_back(entry.path());
    std::sort(files.begin(), files.end());
    CHECK_MESSAGE(files.size() >= 3, target.name);
    for (const auto& file : files) {
      CAPTURE(file);
      std::ifstream stream(file, std::ios::binary);
      const std::vector<std::uint8_t> bytes{std::istreambuf_iterator<char>(stream), {}};
      CHECK_NOTHROW(target.run(bytes));
    }
  }
}
