#include "sim/store/digest.hpp"

#include <doctest/doctest.h>

using driftglow::store::Sha256;
using driftglow::store::sha256_hex;

// FIPS 180-2, appendix B: one block, two blocks, a million letters; the empty text is from the NIST test
// vectors.
TEST_CASE("SHA-256 gives the digests of the standard") {
  CHECK(sha256_hex("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
  CHECK(sha256_hex("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  CHECK(sha256_hex("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq") ==
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  Sha256 sum;
  const std::string thousand(1000, 'a');
  for (int i = 0; i < 1000; ++i) sum.update(thousand);
  CHECK(sum.hex() == "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}
