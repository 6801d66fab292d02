#pragma once

#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>

// The finished program, run as its user runs it.
namespace driftglow::program_test {

// A folder of its own under the system's temporary folder, gone with the object.
class Folder {
 public:
  Folder();
  ~Folder();
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;

  const std::filesystem::path& path() const { return path_; }
  // Writes a file into it and returns its path.
  std::filesystem::path write(const std::string& name, const std::string& text) const;

 private:
  std::filesystem::path path_;
};

struct Outcome {
  int status;
  std::string out, err;
};

// driftglow with arguments as a shell takes them.
Outcome driftglow(const std::string& arguments);

std::string read(const std::filesystem::path& file);
std::filesystem::path config(const std::string& name);

// The text with one occurrence of `from` replaced; fails the test when there is none.
std::string with(std::string text, const std::string& from, const std::string& to);

// Flies a scenario's text in the folder and returns summary.json; results stay in folder/out. Fails the test
// when the program fails.
nlohmann::json fly(const Folder& folder, const std::string& scenario, const std::string& options = "");

}  // namespace driftglow::program_test
