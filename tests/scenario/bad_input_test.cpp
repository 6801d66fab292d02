#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "models/error.hpp"
#include "sim/scenario/reader.hpp"

using namespace driftglow;

// tests/bad_input: one fault a file, and beside it the sentence that it must bring, without the folder.
TEST_CASE("each bad file brings its sentence and no other") {
  const std::filesystem::path folder = std::string(DRIFTGLOW_SOURCE_DIR) + "/tests/bad_input";
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(folder))
    if (entry.path().extension() == ".yaml") files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  REQUIRE(files.size() >= 35);
  for (const auto& file : files) {
    CAPTURE(file.filename().string());
    auto expected_file = file;
    expected_file.replace_extension(".expected");
    std::ostringstream expected;
    expected << std::ifstream(expected_file, std::ios::binary).rdbuf();
    std::string sentence = "no fault";
    try {
      scenario::read_scenario(file);
    } catch (const InputError& error) {
      sentence = error.what();
    }
    if (sentence.starts_with(folder.string() + "/")) sentence.erase(0, folder.string().size() + 1);
    CHECK(sentence.find('\n') == std::string::npos);
    CHECK(sentence + "\n" == expected.str());
  }
}
