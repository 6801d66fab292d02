#include "models/air/screen_loss.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/error.hpp"
#include "tests/outside.hpp"

using namespace driftglow;
using namespace driftglow::air;

// Both sources from memory: each is the other's second route. 1 mm wire with 10 mm openings at 3 m/s: Re/beta
// 240, Wieghardt 0.265, Idelchik 0.270; common practice for such a finger guard: 0.2 to 0.4.
TEST_CASE("two published laws of mesh losses agree where both hold") {
  const Outside outside("Idelchik and Wieghardt, mesh losses [memory]");
  const WireMesh guard{1e-3, 10e-3};
  Outside("geometry by hand").matches("open share of a mesh", open_share(guard), 100.0 / 121.0, 1e-15);
  const double K = screen_loss(guard, 3.0, 1.5e-5);
  outside.matches("loss of a mesh by Idelchik's law", K, 0.2697, 1e-3);
  const double beta = 100.0 / 121.0;
  outside.matches("loss of a mesh by Wieghardt's law against Idelchik's",
                  6.5 * (1.0 - beta) * std::pow(beta, -5.0 / 3.0) / std::cbrt(200.0), K, 0.05);
}

TEST_CASE("slow air and dense meshes lose more") {
  const WireMesh fine{0.2e-3, 0.5e-3}, coarse{0.4e-3, 3e-3};
  CHECK(screen_loss(fine, 2.0, 1.5e-5) > screen_loss(coarse, 2.0, 1.5e-5));
  CHECK(screen_loss(coarse, 0.5, 1.5e-5) > screen_loss(coarse, 2.0, 1.5e-5));
  CHECK_THROWS_AS(screen_loss({0.0, 1e-3}, 2.0, 1.5e-5), InputError);
}
