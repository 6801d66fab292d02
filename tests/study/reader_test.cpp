#include "sim/study/reader.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "models/error.hpp"

using namespace driftglow;

namespace {

const std::filesystem::path source = DRIFTGLOW_SOURCE_DIR;

}  // namespace

// tests/bad_study: one fault a file, and beside it the sentence that it must bring, without the folder.
TEST_CASE("each bad study brings its sentence and no other") {
  const auto folder = source / "tests/bad_study";
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(folder))
    if (entry.path().extension() == ".yaml") files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  REQUIRE(files.size() >= 25);
  for (const auto& file : files) {
    CAPTURE(file.filename().string());
    auto expected_file = file;
    expected_file.replace_extension(".expected");
    std::ostringstream expected;
    expected << std::ifstream(expected_file, std::ios::binary).rdbuf();
    std::string sentence = "no fault";
    try {
      study::read_study(file);
    } catch (const InputError& error) {
      sentence = error.what();
    }
    for (std::size_t at = 0; (at = sentence.find(folder.string() + "/")) != std::string::npos;)
      sentence.erase(at, folder.string().size() + 1);
    CHECK(sentence.find('\n') == std::string::npos);
    CHECK(sentence + "\n" == expected.str());
  }
}

TEST_CASE("the example studies are read, and each of their designs is a scenario") {
  int read = 0;
  for (const auto& entry : std::filesystem::directory_iterator(source / "configs/studies")) {
    CAPTURE(entry.path().string());
    const auto study = study::read_study(entry.path());
    for (const auto& design : study.planned()) CHECK_NOTHROW(study.scenario_at(design));
    ++read;
  }
  CHECK(read >= 3);
}

TEST_CASE("a seed from outside is the designs'") {
  const auto study = study::read_study(source / "configs/studies/coil_spacing.yaml", 77);
  CHECK(study.scenario_at(study.planned().front()).flight.seed == 77);
}
