#pragma once

#include <memory>
#include <string>
#include <string_view>

namespace driftglow::store {

// SHA-256 (FIPS 180-4) of the bytes given so far; hex() is 64 lower-case digits and ends the use of the
// object.
class Sha256 {
 public:
  Sha256();
  ~Sha256();
  Sha256(const Sha256&) = delete;
  Sha256& operator=(const Sha256&) = delete;

  void update(std::string_view bytes);
  std::string hex();

 private:
  struct State;
  std::unique_ptr<State> state_;
};

std::string sha256_hex(std::string_view bytes);

}  // namespace driftglow::store
