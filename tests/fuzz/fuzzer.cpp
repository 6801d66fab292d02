#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <exception>

#include "tests/fuzz/targets.hpp"

using driftglow::fuzz::Target;

// libFuzzer's entry. The target is the one that the environment variable DRIFTGLOW_FUZZ names.
namespace {
const Target& chosen() {
  const char* name = std::getenv("DRIFTGLOW_FUZZ");
  for (const auto& target : driftglow::fuzz::targets())
    if (name != nullptr && std::strcmp(name, target.name) == 0) return target;
  std::fputs("fuzz: DRIFTGLOW_FUZZ names no target; expected one of\n", stderr);
  for (const auto& target : driftglow::fuzz::targets()) std::fprintf(stderr, "  %s\n", target.name);
  std::exit(2);
}
}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const Target& target = chosen();
  try {
    target.run({data, size});
  } catch (const std::exception& error) {
    std::fprintf(stderr, "fuzz: %s\n", error.what());
    std::abort();
  }
  return 0;
}
