#include "sim/parallel/interrupt.hpp"

#include <cstdlib>

namespace driftglow::parallel {

namespace {

sigset_t watched_signals() {
  sigset_t set;
  sigemptyset(&set);
  sigaddset(&set, SIGINT);
  sigaddset(&set, SIGTERM);
  return set;
}

}  // namespace

InterruptWatch::InterruptWatch() {
  const sigset_t watched = watched_signals();
  pthread_sigmask(SIG_BLOCK, &watched, &previous_mask_);
  waiter_ = std::jthread([stop = stop_](const std::stop_token& end) mutable {
    const sigset_t set = watched_signals();
    for (int signal = 0; sigwait(&set, &signal) == 0;) {
      if (end.stop_requested()) return;
      if (!stop.request_stop()) std::_Exit(130);
    }
  });
}

InterruptWatch::~InterruptWatch() {
  waiter_.request_stop();
  // To the waiting thread alone, to wake it; it asks `end` before it takes the signal for an interruption.
  pthread_kill(waiter_.native_handle(), SIGTERM);
  waiter_.join();
  pthread_sigmask(SIG_SETMASK, &previous_mask_, nullptr);
}

}  // namespace driftglow::parallel
