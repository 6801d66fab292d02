#pragma once

#include <sys/types.h>

#include <filesystem>
#include <functional>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "tests/store/folder.hpp"

// The finished program, run as its user runs it.
namespace driftglow::program_test {

using store::Folder;

// Sanitizers and a build without optimisation change what time and memory a run takes.
#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__) || !defined(NDEBUG)
inline constexpr bool instrumented = true;
#else
inline constexpr bool instrumented = false;
#endif

struct Ended {
  int status;  // exit status; -1 when ended by a signal
  std::string out, err;
  double seconds;      // from start to end
  double peak_memory;  // bytes resident; no less than the test's own when it started the program
};

// `driftglow <arguments>`, as a shell takes them, with the folder as working directory.
Ended run(const Folder& folder, const std::string& arguments);

// `driftglow <arguments>` beside the test, for signals; killed in the end where it still runs. Its streams go
// nowhere.
class Beside {
 public:
  Beside(const Folder& folder, const std::string& arguments);
  ~Beside();
  Beside(const Beside&) = delete;
  Beside& operator=(const Beside&) = delete;

  bool runs();
  // Looks until `there` or the program has ended; whether it still runs.
  bool runs_until(const std::function<bool()>& there);
  // Sends the signal and waits; exit status, -1 when ended by a signal.
  int end(int signal);

 private:
  void reap(int options);
  pid_t child_;
  std::optional<int> status_;
};

struct Line {
  double seconds;  // since the start
  std::string text;
};

// What `driftglow <arguments>` says on standard error, which is no terminal, until it ends or is killed after
// `seconds`.
std::vector<Line> said(const Folder& folder, const std::string& arguments, int seconds);

std::string read(const std::filesystem::path& file);
void write(const std::filesystem::path& file, const std::string& text);
std::filesystem::path config(const std::string& name);

// The text with one occurrence of `from` replaced; fails the test when there is none.
std::string with(std::string text, const std::string& from, const std::string& to);
// The demo, flown for `duration` such as "2 s".
std::string short_demo(const std::string& duration);

// Flies a scenario's text in the folder and returns summary.json; results stay in folder/out. Fails the test
// when the program fails.
nlohmann::json fly(const Folder& folder, const std::string& scenario, const std::string& options = "");

}  // namespace driftglow::program_test
