#include "sim/parallel/interrupt.hpp"

#include <doctest/doctest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <thread>

using driftglow::parallel::InterruptWatch;

namespace {

bool stops_in_time(const InterruptWatch& watch) {
  const auto deadline = std::chrono::steady_clock::now() + std::chrono::seconds(10);
  while (!watch.interrupted() && std::chrono::steady_clock::now() < deadline)
    std::this_thread::sleep_for(std::chrono::milliseconds(1));
  return watch.token().stop_requested();
}

}  // namespace

TEST_CASE("the first signal asks for a stop and the program lives on") {
  for (const int signal : {SIGINT, SIGTERM}) {
    const InterruptWatch watch;
    CHECK_FALSE(watch.interrupted());
    kill(getpid(), signal);
    CHECK(stops_in_time(watch));
  }
}

TEST_CASE("without a signal the watch ends at once and restores the mask") {
  sigset_t before, during, after;
  pthread_sigmask(SIG_BLOCK, nullptr, &before);
  const auto start = std::chrono::steady_clock::now();
  for (int i = 0; i < 100; ++i) {
    const InterruptWatch watch;
    pthread_sigmask(SIG_BLOCK, nullptr, &during);
    CHECK_FALSE(watch.interrupted());
  }
  // 100 watches: a wait for a time-out in any of them would show.
  CHECK(std::chrono::steady_clock::now() - start < std::chrono::seconds(5));
  pthread_sigmask(SIG_BLOCK, nullptr, &after);
  CHECK(sigismember(&during, SIGINT) == 1);
  CHECK(sigismember(&after, SIGINT) == sigismember(&before, SIGINT));
  CHECK(sigismember(&after, SIGTERM) == sigismember(&before, SIGTERM));
}

TEST_CASE("the second signal ends the program with status 130") {
  const pid_t child = fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    const InterruptWatch watch;
    kill(getpid(), SIGINT);
    if (!stops_in_time(watch)) _exit(1);
    kill(getpid(), SIGINT);
    std::this_thread::sleep_for(std::chrono::seconds(10));
    _exit(2);
  }
  int status = 0;
  REQUIRE(waitpid(child, &status, 0) == child);
  REQUIRE(WIFEXITED(status));
  CHECK(WEXITSTATUS(status) == 130);
}
