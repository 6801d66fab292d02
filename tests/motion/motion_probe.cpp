#include NUMBER_HEADER

#include "tests/motion/motion_probe.hpp"

#include "models/motion/tracer.hpp"

namespace driftglow::motion {
namespace {

// As in the flight's stages, whatever is called is inlined into functions made of T.
template <class T>
struct Probed {
  using Real = numeric::Real<T>;
  static constexpr int width = numeric::width<T>;

  template <class State>
  static State fetch(const Real* from) {
    State s;
    flight::each_number(s, [&](T& x) {
      x = numeric::load<T>(from);
      from += width;
    });
    return s;
  }
  template <class State>
  static void keep(Real* to, State& s) {
    flight::each_number(s, [&](const T& x) {
      numeric::store(to, x);
      to += width;
    });
  }
  static Vec3<T> vector(const Real* from) {
    return {numeric::load<T>(from), numeric::load<T>(from + width), numeric::load<T>(from + 2 * width)};
  }

  template <DragLaw law, WallLift lift>
  [[gnu::flatten, gnu::noinline]] static void advance(const Setting& in, const Real* kicks, Real* state) {
    auto tag = fetch<TagState<T>>(state);
    const T dt(in.step);
    const auto air = in.air.sample(place_ahead(tag.move, dt));
    motion::advance_solid<law, lift>(in.body, in.terms, in.vessel, air, dt, vector(kicks),
                                     vector(kicks + 3 * width), tag);
    keep(state, tag);
  }

  static void advance_solid(const Setting& in, const Real* kicks, Real* state) {
    using enum DragLaw;
    using enum WallLift;
    const bool lift = in.body.wall_lift == on;
    if (in.body.drag_law == sphere) {
      lift ? advance<sphere, on>(in, kicks, state) : advance<sphere, off>(in, kicks, state);
    } else {
      lift ? advance<fixed, on>(in, kicks, state) : advance<fixed, off>(in, kicks, state);
    }
  }

  [[gnu::flatten]] static void advance_tracer(const Setting& in, const Real* kicks, Real* state) {
    auto tag = fetch<TagState<T>>(state);
    const T dt(in.step);
    const auto air = in.air.sample(place_ahead(tag.move, dt));
    motion::advance_tracer(in.terms, air, dt, vector(kicks), vector(kicks + 3 * width), tag);
    const double radius = in.body.radius;
    reflect(in.vessel.radius - radius, radius, in.vessel.height - radius, tag.move.p_W, tag.move.v_W,
            tag.fluctuation);
    keep(state, tag);
  }

  [[gnu::flatten]] static void touch_pair(const Setting& first, const Setting& second, Real* state_a,
                                          Real* state_b) {
    auto a = fetch<Movement<T>>(state_a), b = fetch<Movement<T>>(state_b);
    motion::touch_pair(first.body, second.body, a, b);
    keep(state_a, a);
    keep(state_b, b);
  }

  [[gnu::flatten]] static void touch_vessel(const Setting& in, Real* state) {
    auto move = fetch<Movement<T>>(state);
    motion::touch_vessel(in.body, in.vessel, T(0.5 * in.step), move);
    keep(state, move);
  }

  static constexpr MotionProbe<Real> probe() {
    return {width, &advance_solid, &advance_tracer, &touch_pair, &touch_vessel};
  }
};

}  // namespace

constinit const MotionProbe<numeric::Real<NUMBER>> PROBE = Probed<NUMBER>::probe();

}  // namespace driftglow::motion
