#include "tests/program/run.hpp"

#include <doctest/doctest.h>
#include <stdlib.h>
#include <sys/wait.h>

#include <cstdlib>
#include <fstream>
#include <sstream>

namespace driftglow::program_test {

Folder::Folder() {
  std::string pattern = (std::filesystem::temp_directory_path() / "driftglow-test-XXXXXX").string();
  REQUIRE(mkdtemp(pattern.data()) != nullptr);
  path_ = pattern;
}

Folder::~Folder() {
  std::error_code ignored;
  std::filesystem::remove_all(path_, ignored);
}

std::filesystem::path Folder::write(const std::string& name, const std::string& text) const {
  const auto file = path_ / name;
  std::ofstream(file) << text;
  return file;
}

std::string read(const std::filesystem::path& file) {
  std::ifstream stream(file, std::ios::binary);
  REQUIRE_MESSAGE(stream.good(), file.string());
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

std::filesystem::path config(const std::string& name) {
  return std::filesystem::path(DRIFTGLOW_SOURCE_DIR) / "configs" / name;
}

Outcome driftglow(const std::string& arguments) {
  const Folder streams;
  const std::string command = std::string(DRIFTGLOW_PROGRAM) + " " + arguments + " >" +
                              (streams.path() / "out").string() + " 2>" + (streams.path() / "err").string() +
                              " </dev/null";
  const int status = std::system(command.c_str());
  return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, read(streams.path() / "out"),
          read(streams.path() / "err")};
}

std::string with(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  REQUIRE_MESSAGE(at != std::string::npos, from);
  return text.replace(at, from.size(), to);
}

nlohmann::json fly(const Folder& folder, const std::string& scenario, const std::string& options) {
  const auto file = folder.write("scenario.yaml", scenario);
  const auto out = folder.path() / "out";
  const auto run = driftglow("fly " + file.string() + " --quiet --out " + out.string() + " " + options);
  REQUIRE_MESSAGE(run.status == 0, run.err);
  return nlohmann::json::parse(read(out / "summary.json"));
}

}  // namespace driftglow::program_test
