#include <cmath>
#include <cstdlib>

// What wide_symbols.sh is there to find: a function that other files may have as well, and wide instructions
// that run when the program starts.
namespace driftglow::flight {

template <class T>
[[gnu::noinline]] T twice(T x) {
  return x + x;
}
template float twice(float);

extern const float started_avx2;
const float started_avx2 = std::sqrt(static_cast<float>(std::rand()));

}  // namespace driftglow::flight
