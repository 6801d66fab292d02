#include "tests/program/run.hpp"

#include <doctest/doctest.h>
#include <sys/wait.h>

#include <cstdlib>
#include <fstream>

namespace driftglow::program_test {

std::string read(const std::filesystem::path& file) {
  REQUIRE_MESSAGE(std::filesystem::exists(file), file.string());
  return store::file_text(file);
}

void write(const std::filesystem::path& file, const std::string& text) {
  std::ofstream(file) << text;
}

std::filesystem::path config(const std::string& name) {
  return std::filesystem::path(DRIFTGLOW_SOURCE_DIR) / "configs" / name;
}

Ended run(const Folder& folder, const std::string& arguments) {
  const Folder streams;
  const std::string command = "cd '" + folder.path().string() + "' && " DRIFTGLOW_PROGRAM " " + arguments +
                              " >'" + (streams / "out").string() + "' 2>'" + (streams / "err").string() +
                              "' </dev/null";
  const int status = std::system(command.c_str());
  return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, read(streams / "out"), read(streams / "err")};
}

std::string with(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  REQUIRE_MESSAGE(at != std::string::npos, from);
  return text.replace(at, from.size(), to);
}

nlohmann::json fly(const Folder& folder, const std::string& scenario, const std::string& options) {
  write(folder / "scenario.yaml", scenario);
  const auto ended = run(folder, "fly scenario.yaml --quiet --out out " + options);
  REQUIRE_MESSAGE(ended.status == 0, ended.err);
  return nlohmann::json::parse(read(folder / "out/summary.json"));
}

}  // namespace driftglow::program_test
