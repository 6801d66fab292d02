#include "tests/program/run.hpp"

#include <doctest/doctest.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <cstdio>
#include <fstream>
#include <thread>

namespace driftglow::program_test {
namespace {

using Clock = std::chrono::steady_clock;

double seconds_since(Clock::time_point start) {
  return std::chrono::duration<double>(Clock::now() - start).count();
}

pid_t started(const std::string& command) {
  const pid_t child = fork();
  if (child == 0) {
    execl("/bin/sh", "sh", "-c", command.c_str(), nullptr);
    _exit(127);
  }
  REQUIRE(child > 0);
  return child;
}

int exit_status(int status) {
  return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

}  // namespace

Beside::Beside(const Folder& folder, const std::string& arguments)
    : child_(started("cd '" + folder.path().string() + "' && exec " DRIFTGLOW_PROGRAM " " + arguments +
                     " >/dev/null 2>&1 </dev/null")) {}

Beside::~Beside() {
  end(SIGKILL);
}

void Beside::reap(int options) {
  int status = 0;
  if (!status_ && waitpid(child_, &status, options) == child_) status_ = exit_status(status);
}

bool Beside::runs() {
  reap(WNOHANG);
  return !status_;
}

bool Beside::runs_until(const std::function<bool()>& there) {
  while (runs() && !there()) std::this_thread::sleep_for(std::chrono::milliseconds(2));
  return runs();
}

int Beside::end(int signal) {
  if (runs()) kill(child_, signal);
  reap(0);
  return *status_;
}

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
  const std::string command = "cd '" + folder.path().string() + "' && exec " DRIFTGLOW_PROGRAM " " +
                              arguments + " >'" + (streams / "out").string() + "' 2>'" +
                              (streams / "err").string() + "' </dev/null";
  const auto start = Clock::now();
  const pid_t child = started(command);
  int status = 0;
  rusage usage{};
  REQUIRE(wait4(child, &status, 0, &usage) == child);
  return {exit_status(status), read(streams / "out"), read(streams / "err"), seconds_since(start),
          1024.0 * static_cast<double>(usage.ru_maxrss)};
}

std::vector<Line> said(const Folder& folder, const std::string& arguments, int seconds) {
  const std::string command = "cd '" + folder.path().string() + "' && exec timeout -s KILL " +
                              std::to_string(seconds) + " " DRIFTGLOW_PROGRAM " " + arguments +
                              " 2>&1 >/dev/null </dev/null";
  const auto start = Clock::now();
  FILE* stream = popen(command.c_str(), "r");
  REQUIRE(stream != nullptr);
  std::vector<Line> lines;
  for (char buffer[1024]; std::fgets(buffer, sizeof(buffer), stream) != nullptr;)
    lines.push_back({seconds_since(start), buffer});
  pclose(stream);
  return lines;
}

std::string with(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  REQUIRE_MESSAGE(at != std::string::npos, from);
  return text.replace(at, from.size(), to);
}

std::string short_demo(const std::string& duration) {
  return with(read(config("plankton_column.yaml")), "duration: 30 s", "duration: " + duration);
}

nlohmann::json fly(const Folder& folder, const std::string& scenario, const std::string& options) {
  write(folder / "scenario.yaml", scenario);
  const auto ended = run(folder, "fly scenario.yaml --quiet --out out " + options);
  REQUIRE_MESSAGE(ended.status == 0, ended.err);
  return nlohmann::json::parse(read(folder / "out/summary.json"));
}

}  // namespace driftglow::program_test
