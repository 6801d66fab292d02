#include "sim/parallel/pool.hpp"

#include <doctest/doctest.h>

#include <atomic>
#include <chrono>
#include <mutex>
#include <set>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

#include "models/error.hpp"

using namespace driftglow;
using namespace driftglow::parallel;

TEST_CASE("every index is visited once, at any thread count") {
  for (const std::size_t count : {std::size_t{0}, std::size_t{1}, std::size_t{3}, std::size_t{1000}})
    for (const int threads : {1, 2, 7}) {
      std::vector<std::atomic<int>> visits(count);
      CHECK(run_blocks(count, threads, [&](std::size_t i) { ++visits[i]; }) == Outcome::finished);
      for (const auto& n : visits) CHECK(n == 1);
    }
}

TEST_CASE("the work is shared by as many threads as asked for") {
  // Each block waits until four are under way: fewer threads would never get past the first blocks.
  std::atomic<int> under_way{0};
  std::mutex mutex;
  std::set<std::thread::id> seen;
  const auto deadline = std::chrono::steady_clock::now() + std::chrono::seconds(20);
  run_blocks(4, 4, [&](std::size_t) {
    ++under_way;
    while (under_way < 4 && std::chrono::steady_clock::now() < deadline) std::this_thread::yield();
    const std::lock_guard lock(mutex);
    seen.insert(std::this_thread::get_id());
  });
  CHECK(seen.size() == 4);
  CHECK(seen.contains(std::this_thread::get_id()));
}

TEST_CASE("the exception of the lowest failing index is rethrown, the same at any thread count") {
  for (const int threads : {1, 2, 7})
    for (int round = 0; round < 50; ++round) {
      std::atomic<int> begun{0};
      std::string message;
      try {
        run_blocks(10'000, threads, [&](std::size_t i) {
          ++begun;
          if (i == 20) std::this_thread::sleep_for(std::chrono::microseconds(200));
          if (i >= 20) throw std::runtime_error(std::to_string(i));
        });
      } catch (const std::runtime_error& error) {
        message = error.what();
      }
      CHECK(message == "20");
      CHECK(begun <= 20 + threads);
    }
}

TEST_CASE("a stop is kept between blocks and said") {
  for (const int threads : {1, 3}) {
    std::stop_source source;
    std::atomic<int> visits{0};
    const auto deadline = std::chrono::steady_clock::now() + std::chrono::seconds(20);
    const Outcome outcome = run_blocks(
        1000, threads,
        [&](std::size_t i) {
          ++visits;
          if (i == 10) source.request_stop();
          // Blocks beyond the one that asks wait for it, so that each thread begins one of them at most.
          while (i > 10 && !source.stop_requested() && std::chrono::steady_clock::now() < deadline)
            std::this_thread::yield();
        },
        source.get_token());
    CHECK(outcome == Outcome::stopped);
    CHECK(visits >= 11);
    CHECK(visits < 11 + threads);
  }
}

TEST_CASE("a stop during the last block leaves nothing out") {
  std::stop_source source;
  const auto ask_at_end = [&](std::size_t i) {
    if (i == 4) source.request_stop();
  };
  CHECK(run_blocks(5, 1, ask_at_end, source.get_token()) == Outcome::finished);
  CHECK(run_blocks(5, 1, ask_at_end, source.get_token()) == Outcome::stopped);
}

TEST_CASE("a thread count below one is refused") {
  CHECK_THROWS_AS(run_blocks(1, 0, [](std::size_t) {}), LogicError);
  CHECK(available_threads() >= 1);
}
