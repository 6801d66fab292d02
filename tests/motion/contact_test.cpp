#include "models/motion/contact.hpp"

#include <doctest/doctest.h>

#include <cmath>

#include "tests/outside.hpp"
#include "tests/relative.hpp"

using namespace driftglow;
using namespace driftglow::motion;

namespace {
Body ball() {
  return {.radius = 0.01,
          .mass = 1e-3,
          .inertia = 0.4,
          .centre_offset = 0.0,
          .displaced_volume = 0.0,
          .restitution = 0.6,
          .friction = 0.3,
          .rolling_resistance = 0.05,
          .wall_lift = WallLift::off,
          .drag_law = DragLaw::sphere,
          .area_along = 0.0,
          .area_across = 0.0};
}
const Vec3<double> up{0.0, 0.0, 1.0};
const Enclosure wide{10.0, 10.0};

// Slides or rolls under gravity and a steady push along x; returns the tag after `time`.
Movement<double> pushed(const Body& body, Movement<double> tag, double push, double time, double dt) {
  for (int i = 0; i < std::lround(time / dt); ++i) {
    const Vec3<double> v = tag.v_W;
    tag.v_W += dt * Vec3<double>{push, 0.0, -constant::gravity};
    tag.p_W += 0.5 * dt * (v + tag.v_W);
    touch_vessel(body, wide, 0.5 * dt, tag);
  }
  return tag;
}
Movement<double> on_floor(const Body& body) {
  return {{0.0, 0.0, body.radius}, {0.0, 0.0, 0.0}, {0.0, 0.0, 0.0}};
}
}  // namespace

TEST_CASE("a ball dropped on the floor bounces with the square of its restitution") {
  const Outside outside("restitution, by hand");
  Body body = ball();
  Movement<double> tag{{0.0, 0.0, 0.02}, {0.0, 0.0, -2.0}, {0.0, 0.0, 0.0}};
  tag.p_W.z = 0.0099;
  touch_vessel(body, wide, 0.0, tag);
  outside.matches("speed after a bounce [m/s]", tag.v_W.z, 1.2, 1e-14);
  CHECK(tag.p_W.z == relative(0.01, 1e-14));
}

// A solid ball thrown along the floor without spin ends rolling at 5/7 of its speed, whatever the friction
// (textbook result, e.g. Goldstein, Classical Mechanics; independent of mu).
TEST_CASE("sliding turns into rolling at five sevenths") {
  const Outside outside("rolling at 5/7 of the speed (textbook, Goldstein)");
  Body body = ball();
  body.rolling_resistance = 0.0;
  auto tag = on_floor(body);
  tag.v_W.x = 1.0;
  const auto end = pushed(body, tag, 0.0, 1.0, 1e-3);
  outside.matches("speed of a ball that has come to roll [m/s]", end.v_W.x, 5.0 / 7.0, 1e-9);
  outside.matches("spin of a ball that has come to roll [1/s]", end.omega_W.y, 5.0 / 7.0 / 0.01, 1e-9);
}

// Down a slope a solid ball rolls with 5/7 of the push while friction holds (textbook); with a rolling couple
// of arm c a the deceleration is c g/(1 + kappa), and a push below c g does not move it at all. Neither may
// depend on the step.
TEST_CASE("rolling, rolling resistance and holding do not depend on the step") {
  const Outside outside("rolling at 5/7 of the push (textbook)");
  const Body body = ball();
  for (const double dt : {2e-3, 1e-3, 0.5e-3, 0.25e-3}) {
    Body free = body;
    free.rolling_resistance = 0.0;
    outside.matches("speed of a ball rolling down a slope [m/s]",
                    pushed(free, on_floor(free), 1.0, 0.5, dt).v_W.x, 0.5 * 5.0 / 7.0, 1e-9);
    const double expected = 0.5 * (1.0 - 0.05 * constant::gravity) / 1.4;
    Outside("deceleration c g/(1 + kappa), by hand")
        .matches("speed of a ball with rolling resistance [m/s]",
                 pushed(body, on_floor(body), 1.0, 0.5, dt).v_W.x, expected, 5e-3);
    const auto held = pushed(body, on_floor(body), 0.045 * constant::gravity, 5.0, dt);
    outside.below("way of a ball that rolling resistance holds [m]", std::fabs(held.p_W.x), 1e-12);
  }
}

TEST_CASE("Coulomb friction caps the couple on a fast slide") {
  const Outside outside("Coulomb's friction, by hand");
  const Body body = ball();
  Movement<double> tag{{0.0, 0.0, 0.0099}, {5.0, 0.0, -1.0}, {0.0, 0.0, 0.0}};
  touch_vessel(body, wide, 0.0, tag);
  outside.matches("speed after a fast slide [m/s]", tag.v_W.x, 5.0 - 0.3 * 1.6, 1e-13);
  outside.matches("spin after a fast slide [1/s]", tag.omega_W.y, 0.3 * 1.6 / (0.4 * 0.01), 1e-13);
}

TEST_CASE("tag-tag contact keeps momentum and angular momentum and never adds energy") {
  const Outside outside("conservation of momentum and angular momentum");
  Body a = ball(), b = ball();
  b.mass = 3e-3;
  b.radius = 0.02;
  Movement<double> p{{0.0, 0.0, 0.0}, {1.0, 0.2, 0.0}, {3.0, 50.0, -7.0}};
  Movement<double> q{{0.029, 0.003, 0.001}, {-0.5, 0.0, 0.3}, {0.0, -20.0, 11.0}};
  const auto momentum = [&] { return a.mass * p.v_W + b.mass * q.v_W; };
  const auto spin = [&](const Body& body, const Movement<double>& m) {
    return (body.inertia * body.mass * body.radius * body.radius) * m.omega_W;
  };
  const auto energy = [&] {
    return 0.5 * a.mass * numeric::dot(p.v_W, p.v_W) + 0.5 * b.mass * numeric::dot(q.v_W, q.v_W) +
           0.5 * numeric::dot(spin(a, p), p.omega_W) + 0.5 * numeric::dot(spin(b, q), q.omega_W);
  };
  const Vec3<double> before = momentum();
  const double energy_before = energy();
  const Vec3<double> apart = p.p_W - q.p_W;
  const Vec3<double> normal = (1.0 / numeric::norm(apart)) * apart;
  const double approach = numeric::dot(p.v_W - q.v_W, normal);
  const Vec3<double> spin_before = spin(a, p) + spin(b, q);
  const Vec3<double> va = p.v_W;
  touch_pair(a, b, p, q);
  const Vec3<double> after = momentum();
  outside.below("momentum of two tags that meet, change [kg m/s]", numeric::norm(after - before), 1e-17);
  Outside("definition of restitution")
      .matches("speed of departure over approach [m/s]", numeric::dot(p.v_W - q.v_W, normal), -0.6 * approach,
               1e-12);
  CHECK(energy() < energy_before);
  // Angular momentum about the contact point: the impulse passes through it.
  const Vec3<double> impulse = a.mass * (p.v_W - va);
  const Vec3<double> moved = spin(a, p) + spin(b, q) - spin_before;
  const Vec3<double> couple = numeric::cross((-(a.radius + b.radius)) * normal, impulse);
  outside.below("angular momentum of two tags that meet, change [kg m2/s]", numeric::norm(moved - couple),
                1e-15);
  CHECK(numeric::norm(p.p_W - q.p_W) == relative(0.03, 1e-9));
}

TEST_CASE("an equal head-on hit with full restitution swaps velocities") {
  Body a = ball();
  a.restitution = 1.0;
  Movement<double> p{{0.0, 0.0, 0.0}, {1.0, 0.0, 0.0}, {0.0, 0.0, 0.0}},
      q{{0.0199, 0.0, 0.0}, {0.0, 0.0, 0.0}, {0.0, 0.0, 0.0}};
  touch_pair(a, a, p, q);
  CHECK(p.v_W.x == doctest::Approx(0.0));
  CHECK(q.v_W.x == relative(1.0));
}

// Against the wall of a cone along its normal, by hand: e of the speed comes back, and the place is set a
// radius off the wall.
TEST_CASE("a cone's wall sends a ball back along its normal") {
  const Outside outside("restitution, by hand");
  const Body body = ball();
  for (const double slope : {0.2, -0.2}) {
    const Enclosure cone{0.1, 0.3, slope};
    const double cosine = 1.0 / std::sqrt(1.0 + slope * slope);
    const Vec3<double> inward{-cosine, 0.0, cosine * slope};
    // Touching at the wall's point of z = 0.15, pushed 0.1 mm into it.
    const Vec3<double> wall_point{0.1 + slope * 0.15, 0.0, 0.15};
    Movement<double> tag{wall_point + (body.radius - 1e-4) * inward, -2.0 * inward, {0.0, 0.0, 0.0}};
    CHECK(gaps<WallShape::tapered>(body, cone, tag.p_W).of[wall] == relative(-1e-4, 1e-9));
    touch_vessel<WallShape::tapered>(body, cone, 0.0, tag);
    outside.matches("speed after a bounce off a cone [m/s]", dot(tag.v_W, inward), 1.2, 1e-12);
    outside.near("gap after it [m]", gaps<WallShape::tapered>(body, cone, tag.p_W).of[wall], 0.0, 1e-15);
  }
}

// Thrown about in cones that lean over the floor and over the lid, with the free steps' centimetres: no tag
// is outside after its contact, at the edges neither.
TEST_CASE("no ball leaves a cone") {
  const Body body = ball();
  for (const double slope : {0.25, -0.25}) {
    const Enclosure cone{0.1, 0.2, slope};
    Movement<double> tag{{0.0, 0.0, 0.1}, {0.0, 0.0, 0.0}, {0.0, 0.0, 0.0}};
    double least = 0.0;
    for (int n = 0; n < 20000; ++n) {
      const auto push = [&](double root) { return 20.0 * (std::fmod(n * root, 1.0) - 0.5); };
      tag.v_W += Vec3<double>{push(0.8191725133961645), push(0.6710436067037893), push(0.5497004779019703)};
      tag.p_W += 1e-3 * tag.v_W;
      touch_vessel<WallShape::tapered>(body, cone, 0.5e-3, tag);
      const auto gap = gaps<WallShape::tapered>(body, cone, tag.p_W);
      least =
          std::fmin(least, std::fmin(gap.of[wall], std::fmin(gap.of[Surface::floor], gap.of[Surface::lid])));
    }
    CHECK(least > -1e-5);  // the correction along a surface, some micrometres
  }
}

TEST_CASE("a tag that is no number hands nothing on") {
  const Body a = ball();
  const Movement<double> sound{{0.0, 0.0, 0.0}, {1.0, 0.2, 0.0}, {3.0, 50.0, -7.0}};
  const double none = std::nan("");
  for (double Vec3<double>::*axis : {&Vec3<double>::x, &Vec3<double>::z}) {
    for (Vec3<double> Movement<double>::*which :
         {&Movement<double>::p_W, &Movement<double>::v_W, &Movement<double>::omega_W}) {
      for (const double wrong : {none, HUGE_VAL}) {
        Movement<double> first = sound, second = sound, other{{0.015, 0.0, 0.0}, {-1.0, 0.0, 0.0}, {0, 0, 0}};
        Movement<double> lost = other;
        lost.*which.*axis = wrong;
        Movement<double> same = lost;
        touch_pair(a, a, first, lost);
        touch_pair(a, a, same, second);
        for (const auto& tag : {first, second}) {
          CHECK(tag.p_W.x == sound.p_W.x);
          CHECK(tag.v_W.x == sound.v_W.x);
          CHECK(tag.omega_W.y == sound.omega_W.y);
        }
      }
    }
  }
}
