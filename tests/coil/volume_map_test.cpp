#include "models/coil/volume_map.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "models/error.hpp"
#include "tests/coil/crossed_coils.hpp"
#include "tests/coil/demo_coils.hpp"
#include "tests/coil/room.hpp"

using namespace driftglow::coil;
using Eigen::Vector3d;

namespace {
constexpr double map_frequency = 118e3;

// At other points than the map's own probes.
double largest_error(const VolumeMap& map, const CoilSystem& system, const Eigen::MatrixXd& currents,
                     Reach reach) {
  std::mt19937_64 engine(99);
  double worst = 0.0;
  for (int i = 0; i < 4000; ++i) {
    const Vector3d p = random_in(reach, engine);
    const Eigen::Matrix3Xd want = system.fields(p) * currents;
    worst = std::fmax(worst, (map.field(p) - want).norm() / map.reference(want.norm()));
  }
  return worst;
}

CoilSystem coaxial(Sense upper) {
  const Winding w{0.240, 12.0, 1, {1.0e-3, 1.06e-3}, 2.0e-3};
  return CoilSystem({{wind(w, 0.0, Sense::right_handed), Placement({0.0, 0.0, 0.08}, Vector3d::UnitZ())},
                     {wind(w, 0.0, upper), Placement({0.0, 0.0, 0.24}, Vector3d::UnitZ())}},
                    {{Connection::series, {0, 1}}});
}
}  // namespace

// Tolerance: the 1e-4 of |B| that issue 4 asks for; `error()` is a largest of many probes and may be beaten a
// little by others. The corners of the grid lie beyond the coils' wires here.
TEST_CASE("the volume map reaches its error and says which") {
  for (const Sense upper : {Sense::right_handed, Sense::left_handed}) {
    const CoilSystem system = coaxial(upper);
    const Eigen::MatrixXd currents = Eigen::MatrixXd::Ones(2, 1);
    const Reach covered{0.095, 0.0, 0.32};
    const auto map = VolumeMap::computed(system, currents, covered, demo_reach, 1);
    const double worst = largest_error(map, system, currents, demo_reach);
    const auto& axes = map.spline().axes();
    MESSAGE("nodes ", axes[0].nodes, " x ", axes[1].nodes, " x ", axes[2].nodes, ", ",
            map.spline().bytes() >> 10, " KiB, error stored ", map.error(), ", found ", worst);
    CHECK(map.error() <= 1e-4);
    CHECK(worst <= 1e-4);
    CHECK(worst <= 2.0 * map.error());
  }
}

TEST_CASE("crossed coils in quadrature, and a ring") {
  const CoilSystem system =
      crossed_coils({ShortedTurn(TurnPath{Placement(Vector3d::Zero(), Vector3d::UnitZ()), {{0.09, 0.0, 1.0}}},
                                 RectangularSection{10e-3, 2e-3}, metal::aluminium)});
  Eigen::VectorXcd amperes(2);
  amperes << 1.0, std::complex<double>(0.0, 1.0);
  const Eigen::MatrixXd currents = current_parts(system.response(map_frequency, both_at_room), amperes);
  REQUIRE(currents.cols() == 2);
  const auto map = VolumeMap::computed(system, currents, crossed_covered, crossed_reach, 1);
  const double worst = largest_error(map, system, currents, crossed_reach);
  MESSAGE("nodes ", map.spline().axes()[0].nodes, ", ", map.spline().bytes() >> 10, " KiB, error stored ",
          map.error(), ", found ", worst);
  CHECK(map.error() <= 1e-4);
  CHECK(worst <= 2.0 * map.error());
}

TEST_CASE("a cap on memory is kept and the error told") {
  const CoilSystem system = coaxial(Sense::right_handed);
  const Eigen::MatrixXd currents = Eigen::MatrixXd::Ones(2, 1);
  const std::size_t cap = 500000;
  const auto map = VolumeMap::computed(system, currents, {0.095, 0.0, 0.32}, demo_reach, 1, 1e-6, cap);
  CHECK(map.spline().bytes() <= cap);
  CHECK(map.spline().bytes() >= cap / 2);
  CHECK(map.error() > 1e-6);
  CHECK(largest_error(map, system, currents, demo_reach) <= 2.0 * map.error());
}

TEST_CASE("faults of a volume map") {
  const CoilSystem system = coaxial(Sense::right_handed);
  const Eigen::MatrixXd currents = Eigen::MatrixXd::Ones(2, 1);
  CHECK_THROWS_AS(VolumeMap::computed(system, currents, {0.13, 0.0, 0.32}, demo_reach, 1),
                  driftglow::InputError);
  CHECK_THROWS_AS(VolumeMap::computed(system, currents, {0.07, 0.0, 0.32}, demo_reach, 1),
                  driftglow::LogicError);
}
