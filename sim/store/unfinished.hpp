#pragma once

#include <chrono>
#include <filesystem>
#include <mutex>
#include <vector>

namespace driftglow::store {

// A folder beside the results that holds what is finished of a run that is not whole yet, in files written
// once and whole, each named by the lowest number in it.
class Unfinished {
 public:
  explicit Unfinished(std::filesystem::path folder) : folder_(std::move(folder)) {}

  const std::filesystem::path& folder() const { return folder_; }
  std::vector<std::filesystem::path> files() const;  // sorted
  std::filesystem::path file_from(int lowest) const;
  // Makes the folder: from now on the run at hand is the unfinished one, whatever is beside it.
  void begin() const;
  // Forgets all, on the disk too. What others put there stays.
  void remove() const;

 private:
  std::filesystem::path folder_;
};

// When to write what is finished: so that a killed run loses a second's work or 2 % of what it did at most.
// For several threads.
class SaveTimer {
 public:
  bool due();

 private:
  using Clock = std::chrono::steady_clock;
  std::mutex mutex_;
  Clock::time_point begun_ = Clock::now(), last_ = begun_;
};

}  // namespace driftglow::store
