#include "sim/parallel/pool.hpp"

#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <system_error>
#include <thread>
#include <vector>

#include "models/error.hpp"

namespace driftglow::parallel {

int available_threads() {
  return std::max(1, static_cast<int>(std::thread::hardware_concurrency()));
}

Outcome run_blocks(std::size_t count, int threads, const std::function<void(std::size_t)>& task,
                   const std::stop_token& stop) {
  if (threads < 1) throw LogicError("run_blocks needs at least one thread");
  std::atomic<std::size_t> next{0};
  std::atomic<std::size_t> done{0};
  std::atomic<bool> failed{false};
  std::mutex failure_mutex;
  std::size_t failure_index = count;
  std::exception_ptr failure;

  const auto work = [&] {
    while (!failed && !stop.stop_requested()) {
      const std::size_t index = next.fetch_add(1);
      if (index >= count) return;
      // A block once handed out is always run: all below a failing one then are, and the lowest failure is
      // known.
      try {
        task(index);
        ++done;
      } catch (...) {
        failed = true;
        const std::lock_guard lock(failure_mutex);
        if (index < failure_index) {
          failure_index = index;
          failure = std::current_exception();
        }
      }
    }
  };

  {
    std::vector<std::jthread> helpers;
    const std::size_t wanted = std::min(static_cast<std::size_t>(threads), count);
    try {
      while (helpers.size() + 1 < wanted) helpers.emplace_back(work);
    } catch (const std::system_error&) {
      // The system grants no more threads: those there are do the same work, later.
    }
    work();
  }
  if (failure) std::rethrow_exception(failure);
  return done == count ? Outcome::finished : Outcome::stopped;
}

}  // namespace driftglow::parallel
