#pragma once

#include <signal.h>

#include <stop_token>
#include <thread>

namespace driftglow::parallel {

// While it lives SIGINT and SIGTERM ask for a stop instead of ending the program; the second one ends it at
// once with status 130. To be made in the main thread before any other thread, which then inherit the blocked
// signals; one at a time. The signal mask is as before once it is gone.
class InterruptWatch {
 public:
  InterruptWatch();
  ~InterruptWatch();
  InterruptWatch(const InterruptWatch&) = delete;
  InterruptWatch& operator=(const InterruptWatch&) = delete;

  std::stop_token token() const { return stop_.get_token(); }
  bool interrupted() const { return stop_.stop_requested(); }

 private:
  std::stop_source stop_;
  sigset_t previous_mask_;
  std::jthread waiter_;
};

}  // namespace driftglow::parallel
