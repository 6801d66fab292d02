#include "tests/motion/lanes.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include "models/motion/advance.hpp"
#include "models/motion/tracer.hpp"
#include "tests/air/designs.hpp"
#include "tests/motion/cage.hpp"

using namespace driftglow;
using namespace driftglow::motion;
using numeric::lanes;
using numeric::Pack;

namespace {

Vec3<double> kick(int step, int lane, int which) {
  const double x = step * 7.31 + lane * 2.17 + which * 1.71;
  return {1.4 * std::sin(x), 1.4 * std::cos(1.3 * x), 1.4 * std::sin(2.1 * x + 0.4)};
}

template <class Get>
Vec3<Pack> packed(Get get) {
  Vec3<Pack> r;
  for (int k = 0; k < lanes; ++k) {
    const Vec3<double> v = get(k);
    r.x.a[k] = v.x;
    r.y.a[k] = v.y;
    r.z.a[k] = v.z;
  }
  return r;
}

TagState<double> start(int lane, int tag) {
  const Vec3<double> none{0.0, 0.0, 0.0};
  return {{{0.05 * (tag - 0.5), 0.015 * lane, 0.02 + 0.05 * lane}, none, none},
          {0.6, 0.0, 0.8},
          kick(-1, lane, tag),
          kick(-2, lane, tag),
          none,
          none};
}

}  // namespace

// The physics over a pack of lanes gives in every lane the bits of the scalar flight: two tags with air,
// forces, pair and vessel contact for 3000 steps, in which lanes touch walls and each other at different
// times.
TEST_CASE("a pack of lanes flies every lane as a scalar does") {
  const auto map = air::map_of(air::Column(plain_design()));
  Body body = cage();
  body.centre_offset = 1e-3;
  body.area_along = 1.1e-3;
  body.area_across = 0.9e-3;
  const BodyTerms terms(body, {1.2, 1.82e-5});
  const Enclosure vessel{0.095, 0.32};
  const double dt = 1e-3;

  std::vector<TagState<double>> scalar[2];
  TagState<Pack> pack[2];
  for (int tag = 0; tag < 2; ++tag) {
    for (int k = 0; k < lanes; ++k) scalar[tag].push_back(start(k, tag));
    const auto of = [&](auto member) { return packed([&](int k) { return member(scalar[tag][k]); }); };
    pack[tag] = {{of([](auto& s) { return s.move.p_W; }), of([](auto& s) { return s.move.v_W; }),
                  of([](auto& s) { return s.move.omega_W; })},
                 of([](auto& s) { return s.n_W; }),
                 of([](auto& s) { return s.fluctuation; }),
                 of([](auto& s) { return s.spin_fluctuation; }),
                 of([](auto& s) { return s.acceleration_W; }),
                 of([](auto& s) { return s.spin_up_W; })};
  }
  bool same = true;
  for (int step = 0; step < 3000; ++step) {
    for (int tag = 0; tag < 2; ++tag) {
      for (int k = 0; k < lanes; ++k) {
        advance_solid<DragLaw::fixed, WallLift::on>(body, terms, vessel, map, dt, kick(step, k, tag),
                                                    kick(step, k, tag + 2), scalar[tag][k]);
      }
      advance_solid<DragLaw::fixed, WallLift::on>(
          body, terms, vessel, map, Pack(dt), packed([&](int k) { return kick(step, k, tag); }),
          packed([&](int k) { return kick(step, k, tag + 2); }), pack[tag]);
    }
    for (int k = 0; k < lanes; ++k) touch_pair(body, body, scalar[0][k].move, scalar[1][k].move);
    touch_pair(body, body, pack[0].move, pack[1].move);
    for (int tag = 0; tag < 2; ++tag) {
      for (int k = 0; k < lanes; ++k) touch_vessel(body, vessel, 0.5 * dt, scalar[tag][k].move);
      touch_vessel(body, vessel, Pack(0.5 * dt), pack[tag].move);
      for (int k = 0; k < lanes; ++k) {
        same = same && pack[tag].move.p_W.x.a[k] == scalar[tag][k].move.p_W.x &&
               pack[tag].n_W.z.a[k] == scalar[tag][k].n_W.z &&
               pack[tag].move.omega_W.y.a[k] == scalar[tag][k].move.omega_W.y;
      }
    }
  }
  CHECK(same);
  CHECK(std::isfinite(scalar[0][0].move.p_W.x));
}

TEST_CASE("a pack of tracers is mirrored lane by lane") {
  const double x[lanes] = {0.05, 0.10, -0.12, 0.0};
  Vec3<Pack> p = packed([&](int k) { return Vec3<double>{x[k], 0.01, k == 3 ? -0.01 : 0.1}; });
  Vec3<Pack> v = packed([&](int) { return Vec3<double>{1.0, 2.0, 3.0}; }), w = v;
  reflect(0.095, 0.0, 0.32, p, v, w);
  for (int k = 0; k < lanes; ++k) {
    Vec3<double> q{x[k], 0.01, k == 3 ? -0.01 : 0.1}, u{1.0, 2.0, 3.0}, s = u;
    reflect(0.095, 0.0, 0.32, q, u, s);
    CHECK(p.x.a[k] == q.x);
    CHECK(p.z.a[k] == q.z);
    CHECK(v.x.a[k] == u.x);
    CHECK(w.z.a[k] == s.z);
  }
}
