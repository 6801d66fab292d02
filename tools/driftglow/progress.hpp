#pragma once

#include <chrono>
#include <string>

#include "sim/flight/campaign.hpp"
#include "tools/driftglow/options.hpp"

namespace driftglow::program {

// Progress on standard error: a bar on a terminal, else a line at once and then every ten seconds; nothing
// when quiet.
class ProgressLine {
 public:
  enum class Rate { tag_steps, replicates };

  explicit ProgressLine(Talk talk, Rate rate = Rate::tag_steps);
  ~ProgressLine();
  ProgressLine(const ProgressLine&) = delete;
  ProgressLine& operator=(const ProgressLine&) = delete;

  // A line that stays.
  void say(const std::string& text);
  // The flight begins; counts the time left from here.
  void begin();
  // One call at a time, from any thread.
  void show(const flight::Progress& progress);

 private:
  using Clock = std::chrono::steady_clock;
  void draw(const flight::Progress& progress, Clock::time_point now);
  void clear();

  enum class Kind { none, lines, bar, coloured_bar };
  Kind kind_;
  Rate rate_;
  bool drawn_ = false;
  Clock::time_point begun_{}, last_{};
};

}  // namespace driftglow::program
