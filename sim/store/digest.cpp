#include "sim/store/digest.hpp"

#include <fmt/format.h>
#include <openssl/evp.h>

#include <array>

#include "models/error.hpp"

namespace driftglow::store {

namespace {

void require(int status) {
  if (status != 1) throw LogicError("libcrypto refuses to compute SHA-256");
}

}  // namespace

struct Sha256::State {
  std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)> context{EVP_MD_CTX_new(), &EVP_MD_CTX_free};
};

Sha256::Sha256() : state_(std::make_unique<State>()) {
  require(state_->context != nullptr);
  require(EVP_DigestInit_ex(state_->context.get(), EVP_sha256(), nullptr));
}

Sha256::~Sha256() = default;

void Sha256::update(std::string_view bytes) {
  require(EVP_DigestUpdate(state_->context.get(), bytes.data(), bytes.size()));
}

std::string Sha256::hex() {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned size = 0;
  require(EVP_DigestFinal_ex(state_->context.get(), digest.data(), &size));
  std::string text;
  for (unsigned i = 0; i < size; ++i) text += fmt::format("{:02x}", digest[i]);
  return text;
}

std::string sha256_hex(std::string_view bytes) {
  Sha256 sum;
  sum.update(bytes);
  return sum.hex();
}

}  // namespace driftglow::store
