#pragma once

#include <utility>

#include "models/motion/advance.hpp"
#include "models/motion/tracer.hpp"
#include "sim/flight/draws.hpp"
#include "sim/flight/kernel.hpp"
#include "sim/flight/linkage.hpp"
#include "sim/flight/numbers.hpp"
#include "sim/flight/tally.hpp"

// The stages of a step over the number type T; included by one source file an instruction set, below its
// pack. Everything here must be made of T (or be inlined): a function shared with other files could end up in
// the program in its wide form and be called on a machine that has none. A test looks at the symbols.
namespace driftglow::flight {

using motion::TagState;

template <class T>
class Stages {
 public:
  using Real = numeric::Real<T>;
  static constexpr int width = numeric::width<T>;

  // Only what is inlined into a stage may use the wide instructions; `flatten` inlines all of it.
  [[gnu::flatten, gnu::noinline]] static void stir(const Plan& plan, const FlightArrays<Real>& a,
                                                   std::int64_t) {
    for (const DesignPlan& design : plan.designs) {
      if (design.hold) {
        if (!design.hold->axis) turn_held(design, a);
        continue;
      }
      for (int tag = design.first_tag; tag < design.first_tag + design.count; ++tag) {
        const Kicks<T> k = draw_kicks<T>(a.stream_state + tag * width, a.stream_increment + tag * width);
        Real* to = a.kicks + tag * kick_numbers * width;
        for (const Vec3<T>* v : {&k.velocity, &k.spin}) {
          store_vector(to, *v);
          to += 3 * width;
        }
      }
    }
  }

  [[gnu::flatten, gnu::noinline]] static void sample_air(const Plan& plan, const FlightArrays<Real>& a,
                                                         std::int64_t step) {
    if (plan.air.precession) {
      const double time = (static_cast<double>(step) + 0.5) * plan.clock.step;
      const double turns = air::precession_turns(*plan.air.precession, time);
      each_sample<air::WallShape::straight>(plan, a, [&](const Vec3<T>& place, air::AirSample<T>& sample) {
        air::add_precession(*plan.air.precession, plan.vessel.radius, turns, place, sample);
      });
    } else if (plan.vessel.wall() == air::WallShape::tapered) {
      each_sample<air::WallShape::tapered>(plan, a, [](const Vec3<T>&, air::AirSample<T>&) {});
    } else {
      each_sample<air::WallShape::straight>(plan, a, [](const Vec3<T>&, air::AirSample<T>&) {});
    }
  }

  [[gnu::flatten, gnu::noinline]] static void advance(const Plan& plan, const FlightArrays<Real>& a,
                                                      std::int64_t) {
    if (plan.vessel.wall() == air::WallShape::tapered) {
      advance_within<air::WallShape::tapered>(plan, a);
    } else {
      advance_within<air::WallShape::straight>(plan, a);
    }
  }

  // Before the vessel, so that the vessel has the last word: at a step's end no tag is outside it by more
  // than some micrometres (the wall's correction can still shift a tag at the floor, and the other way
  // round).
  [[gnu::flatten, gnu::noinline]] static void touch_tags(const Plan& plan, const FlightArrays<Real>& a,
                                                         std::int64_t) {
    for (const DesignPlan& first : plan.designs) {
      if (!first.solid()) continue;
      for (const DesignPlan& second : plan.designs) {
        if (!second.solid() || second.first_tag < first.first_tag) continue;
        for (int i = first.first_tag; i < first.first_tag + first.count; ++i) {
          Vec3<T> place = vector_at(state_of(a, i) + place_x * width);
          for (int j = std::max(i + 1, second.first_tag); j < second.first_tag + second.count; ++j) {
            const Vec3<T> other = vector_at(state_of(a, j) + place_x * width);
            if (!numeric::any(motion::overlap(first.body, second.body, place, other))) continue;
            touch(first.body, second.body, state_of(a, i), state_of(a, j));
            place = vector_at(state_of(a, i) + place_x * width);
          }
        }
      }
    }
  }

  [[gnu::flatten, gnu::noinline]] static void touch_vessel(const Plan& plan, const FlightArrays<Real>& a,
                                                           std::int64_t) {
    if (plan.vessel.wall() == air::WallShape::tapered) {
      touch_within<air::WallShape::tapered>(plan, a);
    } else {
      touch_within<air::WallShape::straight>(plan, a);
    }
  }

  [[gnu::flatten, gnu::noinline]] static void see_field(const Plan& plan, const FlightArrays<Real>& a,
                                                        std::int64_t) {
    each_linkage(
        plan, a,
        [&](int tag, const auto& linkage, const DesignPlan& design, const Vec3<T>& p, const Vec3<T>& n) {
          numeric::store(a.linkage_squared + tag * width, linkage.squared(design, p, n));
        });
  }

  // For coupled tags.
  [[gnu::flatten, gnu::noinline]] static void see_phasors(const Plan& plan, const FlightArrays<Real>& a,
                                                          std::int64_t) {
    each_linkage(
        plan, a,
        [&](int tag, const auto& linkage, const DesignPlan& design, const Vec3<T>& p, const Vec3<T>& n) {
          const auto [re, im] = linkage.phasor(design, p, n);
          numeric::store(a.linkage_parts + 2 * tag * width, re);
          numeric::store(a.linkage_parts + (2 * tag + 1) * width, im);
          numeric::store(a.linkage_squared + tag * width, re * re + im * im);
        });
  }

  [[gnu::flatten, gnu::noinline]] static void shine(const Plan& plan, const FlightArrays<Real>& a,
                                                    std::int64_t step) {
    glow<Seen::alike>(plan, a, step);
  }
  [[gnu::flatten, gnu::noinline]] static void shine_coupled(const Plan& plan, const FlightArrays<Real>& a,
                                                            std::int64_t step) {
    glow<Seen::by_fit>(plan, a, step);
  }

 private:
  template <air::WallShape shape>
  static void touch_within(const Plan& plan, const FlightArrays<Real>& a) {
    const T half_step(0.5 * plan.clock.step);
    for (const DesignPlan& design : plan.designs) {
      if (!design.solid()) continue;
      for (int tag = design.first_tag; tag < design.first_tag + design.count; ++tag) {
        Real* state = state_of(a, tag);
        const auto gap = motion::gaps<shape>(design.body, plan.vessel, vector_at(state + place_x * width));
        const T least = numeric::minimum(numeric::minimum(gap.of[0], gap.of[1]), gap.of[2]);
        if (!numeric::any(least < T(0.0))) continue;
        motion::Movement<T> move;
        fetch(state, move);
        motion::touch_vessel<shape>(design.body, plan.vessel, half_step, move);
        keep(state, move);
      }
    }
  }

  template <air::WallShape shape>
  static void advance_within(const Plan& plan, const FlightArrays<Real>& a) {
    using enum motion::DragLaw;
    using enum motion::WallLift;
    for (const DesignPlan& design : plan.designs) {
      if (design.hold) continue;
      const bool lift = design.body.wall_lift == on;
      if (design.kind == scenario::BodyKind::tracer) {
        advance_tracers<shape>(plan, design, a);
      } else if (design.body.drag_law == sphere) {
        lift ? advance_solids<sphere, on, shape>(plan, design, a)
             : advance_solids<sphere, off, shape>(plan, design, a);
      } else {
        lift ? advance_solids<fixed, on, shape>(plan, design, a)
             : advance_solids<fixed, off, shape>(plan, design, a);
      }
    }
  }

  // The air half a step ahead of every tag that flies; add(place, sample) joins what the map does not hold.
  template <air::WallShape shape, class Add>
  static void each_sample(const Plan& plan, const FlightArrays<Real>& a, const Add& add) {
    const T dt(plan.clock.step);
    for (const DesignPlan& design : plan.designs) {
      if (design.hold) continue;
      for (int tag = design.first_tag; tag < design.first_tag + design.count; ++tag) {
        const Real* state = state_of(a, tag);
        motion::Movement<T> move;
        move.p_W = vector_at(state + place_x * width);
        move.v_W = vector_at(state + velocity_x * width);
        const Vec3<T> place = motion::place_ahead(move, dt);
        auto sample = plan.air.map.template sample_within<shape>(place);
        add(place, sample);
        keep(a.air + tag * air_numbers * width, sample);
      }
    }
  }

  // Calls see(tag, linkage, design, place, axis) for every tag, the linkage chosen once a design.
  template <class See>
  static void each_linkage(const Plan& plan, const FlightArrays<Real>& a, const See& see) {
    for (const DesignPlan& design : plan.designs) {
      with_linkage(plan, design, [&](const auto& linkage) {
        for (int tag = design.first_tag; tag < design.first_tag + design.count; ++tag) {
          const Real* state = state_of(a, tag);
          see(tag, linkage, design, vector_at(state + place_x * width), vector_at(state + axis_x * width));
        }
      });
    }
  }

  // Whether the fits of a tag see the same linkage.
  enum class Seen { alike, by_fit };

  template <Seen seen>
  static void glow(const Plan& plan, const FlightArrays<Real>& a, std::int64_t step) {
    int slot = 0;
    const double* nodes_per_linkage = a.nodes_per_linkage;
    for (const DesignPlan& design : plan.designs) {
      const int slots = design.slot_count();
      const T scale(*nodes_per_linkage++), last(1.0 * CurrentTable::intervals);
      for (int tag = design.first_tag; tag < design.first_tag + design.count; ++tag) {
        T squared, part;
        numeric::Index<T> at;
        const auto look_up = [&](const Real* seen_squared) {
          squared = numeric::load<T>(seen_squared);
          const T node = numeric::minimum(numeric::square_root(squared) * scale, last);
          const auto whole = numeric::truncate(node);
          part = node - numeric::to_real(whole);
          at = numeric::lane_number<T>() * table_length + whole;
        };
        // Same place in the table of every slot.
        if constexpr (seen == Seen::alike) look_up(a.linkage_squared + tag * width);
        for (int s = 0; s < slots; ++s, ++slot) {
          if constexpr (seen == Seen::by_fit) look_up(a.seen_squared + slot * width);
          Real* sum = a.current_sum + slot * width;
          const std::uint32_t lit =
              numeric::bits(numeric::load<T>(a.on_linkage_squared + slot * width) <= squared);
          if (lit != a.lit[slot]) a.tally->change(slot, step, a.lit[slot] ^ lit, sum);
          a.lit[slot] = lit;
          const std::uint32_t over =
              numeric::bits(numeric::load<T>(a.over_rating_linkage_squared + slot * width) < squared);
          if (over != 0) a.tally->over_rating(slot, over);
          T low, high;
          numeric::load_two(a.current_table + static_cast<std::ptrdiff_t>(slot) * width * table_length, at,
                            low, high);
          numeric::store(sum, numeric::load<T>(sum) + (low + part * (high - low)));
        }
      }
    }
  }

  static Real* state_of(const FlightArrays<Real>& a, int tag) {
    return a.state + static_cast<std::ptrdiff_t>(tag) * state_numbers * width;
  }
  static Vec3<T> vector_at(const Real* from) {
    return {numeric::load<T>(from), numeric::load<T>(from + width), numeric::load<T>(from + 2 * width)};
  }
  static void store_vector(Real* to, const Vec3<T>& v) {
    numeric::store(to, v.x);
    numeric::store(to + width, v.y);
    numeric::store(to + 2 * width, v.z);
  }
  template <class State>
  static void fetch(const Real* from, State& s) {
    each_number(s, [&](T& x) {
      x = numeric::load<T>(from);
      from += width;
    });
  }
  template <class State>
  static void keep(Real* to, State& s) {
    each_number(s, [&](const T& x) {
      numeric::store(to, x);
      to += width;
    });
  }

  static void turn_held(const DesignPlan& design, const FlightArrays<Real>& a) {
    for (int tag = design.first_tag; tag < design.first_tag + design.count; ++tag) {
      std::uint64_t* state = a.stream_state + tag * width;
      const std::uint64_t* increment = a.stream_increment + tag * width;
      const T first = numeric::unit_interval(numeric::draw<T>(state, increment));
      const T second = numeric::unit_interval(numeric::draw<T>(state, increment));
      store_vector(state_of(a, tag) + axis_x * width, isotropic(first, second));
    }
  }

  template <air::WallShape shape>
  static void advance_tracers(const Plan& plan, const DesignPlan& design, const FlightArrays<Real>& a) {
    const double radius = design.body.radius;
    const double reach = shape == air::WallShape::tapered ? plan.vessel.radius - radius / plan.vessel.cosine()
                                                          : plan.vessel.radius - radius;
    each_free(design, a, [&](TagState<T>& s, const air::AirSample<T>& air, const Kicks<T>& kicks) {
      motion::advance_tracer(design.terms, air, T(plan.clock.step), kicks.velocity, kicks.spin, s);
      motion::reflect<shape>(reach, radius, plan.vessel.height - radius, s.move.p_W, s.move.v_W,
                             s.fluctuation, plan.vessel.slope);
    });
  }

  template <motion::DragLaw law, motion::WallLift lift, air::WallShape shape>
  static void advance_solids(const Plan& plan, const DesignPlan& design, const FlightArrays<Real>& a) {
    each_free(design, a, [&](TagState<T>& s, const air::AirSample<T>& air, const Kicks<T>& kicks) {
      motion::advance_solid<law, lift, shape>(design.body, design.terms, plan.vessel, air, T(plan.clock.step),
                                              kicks.velocity, kicks.spin, s);
    });
  }

  template <class Move>
  static void each_free(const DesignPlan& design, const FlightArrays<Real>& a, const Move& move) {
    for (int tag = design.first_tag; tag < design.first_tag + design.count; ++tag) {
      TagState<T> s;
      air::AirSample<T> air;
      fetch(state_of(a, tag), s);
      fetch(a.air + tag * air_numbers * width, air);
      const Real* kicks = a.kicks + tag * kick_numbers * width;
      move(s, air, Kicks<T>{vector_at(kicks), vector_at(kicks + 3 * width)});
      keep(state_of(a, tag), s);
    }
  }

  static void touch(const motion::Body& first, const motion::Body& second, Real* state_a, Real* state_b) {
    motion::Movement<T> move_a, move_b;
    fetch(state_a, move_a);
    fetch(state_b, move_b);
    motion::touch_pair(first, second, move_a, move_b);
    keep(state_a, move_a);
    keep(state_b, move_b);
  }
};

template <class T>
constexpr Kernel<numeric::Real<T>> kernel_of() {
  using S = Stages<T>;
  return {numeric::width<T>,
          {&S::stir, &S::sample_air, &S::advance, &S::touch_tags, &S::touch_vessel, &S::see_field, &S::shine},
          &S::see_phasors,
          &S::shine_coupled};
}

}  // namespace driftglow::flight
