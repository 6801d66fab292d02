#include "tools/driftglow/progress.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <string_view>

#include "sim/sheet/quantity_text.hpp"

namespace driftglow::program {
namespace {

constexpr int bar_width = 30;
constexpr const char* clear_line = "\r\033[K";

void write(const std::string& text) {
  std::fputs(text.c_str(), stderr);
  std::fflush(stderr);
}

std::string clock_time(double seconds) {
  const auto whole = static_cast<long long>(seconds + 0.5);
  return whole < 3600 ? fmt::format("{}:{:02}", whole / 60, whole % 60)
                      : fmt::format("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60);
}

}  // namespace

ProgressLine::ProgressLine(Talk talk, Rate rate) : rate_(rate) {
  const char* terminal = std::getenv("TERM");
  const char* no_colour = std::getenv("NO_COLOR");
  const bool plain = no_colour != nullptr && *no_colour != '\0';
  const bool can_draw =
      isatty(STDERR_FILENO) != 0 && (terminal == nullptr || std::string_view(terminal) != "dumb");
  kind_ = talk == Talk::quiet ? Kind::none : !can_draw ? Kind::lines : plain ? Kind::bar : Kind::coloured_bar;
}

ProgressLine::~ProgressLine() {
  clear();
}

void ProgressLine::clear() {
  if (drawn_ && kind_ != Kind::lines) write(clear_line);
  drawn_ = false;
}

void ProgressLine::say(const std::string& text) {
  if (kind_ == Kind::none) return;
  clear();
  write(text + "\n");
}

void ProgressLine::begin() {
  begun_ = last_ = Clock::now();
}

void ProgressLine::show(const flight::Progress& progress) {
  if (kind_ == Kind::none) return;
  const auto now = Clock::now();
  // The first line soon, so that a long flight shows its rate at once.
  const auto pause =
      drawn_ && kind_ == Kind::lines ? std::chrono::milliseconds(10000) : std::chrono::milliseconds(100);
  if (now - last_ < pause && progress.replicates_done < progress.replicates_planned) return;
  last_ = now;
  draw(progress, now);
}

void ProgressLine::draw(const flight::Progress& progress, Clock::time_point now) {
  const double elapsed = std::chrono::duration<double>(now - begun_).count();
  std::string text = fmt::format("{}/{} replicates", progress.replicates_done, progress.replicates_planned);
  const double done =
      static_cast<double>(progress.tag_steps_done) / static_cast<double>(progress.tag_steps_planned);
  if (done > 0.0 && elapsed > 0.0) {
    const std::string rate =
        rate_ == Rate::tag_steps
            ? sheet::with_prefix(static_cast<double>(progress.tag_steps_done) / elapsed, "tag-steps/s")
            : fmt::format("{:.3g} replicates/s", progress.replicates_done / elapsed);
    text += fmt::format(", {}, {} left", rate, clock_time(elapsed * (1.0 - done) / done));
  }
  drawn_ = true;
  if (kind_ == Kind::lines) return write(text + "\n");
  const int filled = static_cast<int>(bar_width * done);
  const char* on = kind_ == Kind::coloured_bar ? "\033[32m" : "";
  const char* off = kind_ == Kind::coloured_bar ? "\033[0m" : "";
  write(fmt::format("{}[{}{}{}{}] {}", clear_line, on, std::string(filled, '='), off,
                    std::string(bar_width - filled, ' '), text));
}

}  // namespace driftglow::program
