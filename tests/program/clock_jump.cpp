// Preloaded by the test `faults`: the calendar's clock is set to and fro by ten years at every second look,
// the steady one leaps an hour ahead at every hundredth, as on a machine that slept.
#include <sys/syscall.h>
#include <sys/time.h>
#include <unistd.h>

#include <atomic>
#include <ctime>

namespace {

constexpr time_t ten_years = 315'000'000, hour = 3600;
std::atomic<int> looks{0};

}  // namespace

extern "C" int clock_gettime(clockid_t clock, timespec* now) noexcept {
  const long status = syscall(SYS_clock_gettime, clock, now);
  const int look = ++looks;
  if (clock == CLOCK_REALTIME && look % 2 == 0) now->tv_sec -= ten_years;
  if (clock == CLOCK_MONOTONIC) now->tv_sec += look / 100 * hour;
  return static_cast<int>(status);
}

extern "C" time_t time(time_t* to) noexcept {
  timespec now{};
  clock_gettime(CLOCK_REALTIME, &now);
  if (to != nullptr) *to = now.tv_sec;
  return now.tv_sec;
}

extern "C" int gettimeofday(timeval* now, void*) noexcept {
  timespec at{};
  const int status = clock_gettime(CLOCK_REALTIME, &at);
  *now = {at.tv_sec, at.tv_nsec / 1000};
  return status;
}
