#include "sim/flight/replicate.hpp"

#include <fmt/format.h>
#include <time.h>

#include <cmath>
#include <limits>

#include "models/error.hpp"
#include "models/motion/advance.hpp"
#include "models/motion/tracer.hpp"
#include "sim/flight/linkage.hpp"
#include "sim/flight/tally.hpp"

namespace driftglow::flight {
namespace {

using motion::TagState;

struct Tag {
  TagState<double> state;
  pcg32 start_stream, air_stream, axis_stream;
  std::vector<BuiltFit> fits;
  std::vector<SpellTally> tallies;
};

double thread_cpu_seconds() {
  timespec now{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

struct Kicks {
  Vec3<double> velocity, spin;
};

// Six normals: what one step of one tag takes from its stream.
Kicks kicks(pcg32& stream) {
  double u[6];
  for (double& x : u) x = uniform(stream);
  const auto a = numeric::normal_pair(u[0], u[1]);
  const auto b = numeric::normal_pair(u[2], u[3]);
  const auto c = numeric::normal_pair(u[4], u[5]);
  return {{a.first, a.second, b.first}, {b.second, c.first, c.second}};
}

Vec3<double> isotropic(pcg32& stream) {
  const double z = 2.0 * uniform(stream) - 1.0;
  const auto turn = numeric::sine_cosine(2.0 * constant::pi * uniform(stream));
  const double s = numeric::square_root(numeric::maximum(1.0 - z * z, 0.0));
  return {s * turn.cosine, s * turn.sine, z};
}

Vec3<double> vector(const std::array<double, 3>& a) {
  return {a[0], a[1], a[2]};
}

bool solid(const DesignPlan& design) {
  return !design.hold && design.kind == scenario::BodyKind::solid;
}

// Uniform in the tag's reach.
Vec3<double> random_place(const Plan& plan, const DesignPlan& design, pcg32& stream) {
  const double reach = plan.vessel.radius - design.body.radius;
  const double r = reach * numeric::square_root(uniform(stream));
  const auto turn = numeric::sine_cosine(2.0 * constant::pi * uniform(stream));
  const double z = design.body.radius + (plan.vessel.height - 2.0 * design.body.radius) * uniform(stream);
  return {r * turn.cosine, r * turn.sine, z};
}

class Vessel {
 public:
  Vessel(const Plan& plan, int replicate) : plan_(plan), replicate_(replicate) {
    for (const DesignPlan& design : plan.designs) {
      for (int i = 0; i < design.count; ++i) add(design, design.first_tag + i);
    }
    for (const DesignPlan& design : plan.designs) {
      tallies_.emplace_back(plan, design);
      if (!solid(design)) continue;
      for (int i = 0; i < design.count; ++i) free_.push_back({&design, design.first_tag + i});
    }
    place_solids();
    result_.vessel.lit_at_once.assign(plan.tags + 1, 0);
    result_.vessel.colour_intensity.assign(plan.colours.size(), 0.0);
  }

  ReplicateResult fly() {
    for (std::int64_t left = plan_.clock.warmup; left > 0; --left) {
      if (left % plan_.clock.pinned_every == 0) remember_places();
      move();
    }
    for (std::int64_t k = 0; k < plan_.clock.duration; ++k) {
      move();
      glow(k);
    }
    check_finite();
    return finish();
  }

 private:
  struct FreeTag {
    const DesignPlan* design;
    int tag;
  };

  void add(const DesignPlan& design, int number) {
    const auto stream = [&](Purpose purpose) {
      return random_stream(plan_.seed, replicate_, number, purpose);
    };
    Tag tag{{}, stream(Purpose::start), stream(Purpose::air), stream(Purpose::axis), {}, {}};
    begin(design, tag.start_stream, tag.state);
    if (design.tank) {
      pcg32 build = stream(Purpose::build);
      tag.fits = build_tag(*design.tank, design.leds, plan_.omega, design.linkage_max, build);
    } else {
      tag.fits = {{*design.threshold * *design.threshold, std::numeric_limits<double>::infinity(), {}}};
    }
    tag.tallies.resize(design.fits.size());
    tags_.push_back(std::move(tag));
  }

  void begin(const DesignPlan& design, pcg32& start, TagState<double>& state) {
    const Vec3<double> none{0.0, 0.0, 0.0};
    const Vec3<double> axis = isotropic(start);
    const auto [fluctuation, spin_fluctuation] = kicks(start);
    state = {{none, none, none}, axis, fluctuation, spin_fluctuation, none, none};
    if (!design.hold) {
      state.move.p_W = random_place(plan_, design, start);
      return;
    }
    state.move.p_W = vector(design.hold->place);
    if (design.hold->axis) state.n_W = vector(*design.hold->axis);
  }

  // Solid tags one after the other where there is room; all of them anew when one finds none, since the first
  // ones may stand in the way.
  void place_solids() {
    constexpr int attempts = 200;
    for (int i = 0; i < attempts; ++i) {
      if (try_to_place()) return;
      for (const FreeTag& free : free_) draw_place(free);
    }
    throw InputError(fmt::format(
        "tags: {} of them cannot be placed in the vessel without overlap; expected fewer or smaller tags",
        free_.size()));
  }

  void draw_place(const FreeTag& free) {
    Tag& tag = tags_[free.tag];
    tag.state.move.p_W = random_place(plan_, *free.design, tag.start_stream);
  }

  bool try_to_place() {
    constexpr int tries = 1000;
    for (std::size_t i = 0; i < free_.size(); ++i) {
      int left = tries;
      while (left > 0 && !clear(i)) {
        draw_place(free_[i]);
        --left;
      }
      if (left == 0) return false;
    }
    return true;
  }

  // Whether free tag i stands clear of those before it.
  bool clear(std::size_t i) const {
    const auto& p = tags_[free_[i].tag].state.move.p_W;
    for (std::size_t j = 0; j < i; ++j) {
      const double reach = free_[i].design->body.radius + free_[j].design->body.radius;
      if (numeric::norm(p - tags_[free_[j].tag].state.move.p_W) < reach) return false;
    }
    return true;
  }

  void move() {
    for (const DesignPlan& design : plan_.designs) {
      if (design.hold) {
        turn_held(design);
      } else if (design.kind == scenario::BodyKind::tracer) {
        advance_tracers(design);
      } else {
        advance_solids(design);
      }
    }
    touch();
  }

  void turn_held(const DesignPlan& design) {
    if (design.hold->axis) return;
    for (int i = 0; i < design.count; ++i) {
      Tag& tag = tags_[design.first_tag + i];
      tag.state.n_W = isotropic(tag.axis_stream);
    }
  }

  void advance_tracers(const DesignPlan& design) {
    const double a = design.body.radius;
    for (int i = 0; i < design.count; ++i) {
      Tag& tag = tags_[design.first_tag + i];
      TagState<double>& s = tag.state;
      const auto [velocity_normal, spin_normal] = kicks(tag.air_stream);
      motion::advance_tracer(design.terms, plan_.air.map, plan_.clock.step, velocity_normal, spin_normal, s);
      motion::reflect(plan_.vessel.radius - a, a, plan_.vessel.height - a, s.move.p_W, s.move.v_W,
                      s.fluctuation);
    }
  }

  template <motion::DragLaw law, motion::WallLift lift>
  void advance_as(const DesignPlan& design) {
    for (int i = 0; i < design.count; ++i) {
      Tag& tag = tags_[design.first_tag + i];
      const auto [velocity_normal, spin_normal] = kicks(tag.air_stream);
      motion::advance_solid<law, lift>(design.body, design.terms, plan_.vessel, plan_.air.map,
                                       plan_.clock.step, velocity_normal, spin_normal, tag.state);
    }
  }

  void advance_solids(const DesignPlan& design) {
    using enum motion::WallLift;
    const bool lifted = design.body.wall_lift == on;
    if (design.body.drag_law == motion::DragLaw::sphere) {
      lifted ? advance_as<motion::DragLaw::sphere, on>(design)
             : advance_as<motion::DragLaw::sphere, off>(design);
    } else {
      lifted ? advance_as<motion::DragLaw::fixed, on>(design)
             : advance_as<motion::DragLaw::fixed, off>(design);
    }
  }

  // Tags with each other first, so that the vessel has the last word: at a step's end none is outside it by
  // more than some micrometres (the wall's correction can still shift a tag at the floor, and the other way
  // round).
  void touch() {
    for (std::size_t i = 0; i < free_.size(); ++i) {
      for (std::size_t j = i + 1; j < free_.size(); ++j) {
        motion::touch_pair(free_[i].design->body, free_[j].design->body, tags_[free_[i].tag].state.move,
                           tags_[free_[j].tag].state.move);
      }
    }
    for (const FreeTag& free : free_) {
      motion::touch_vessel(free.design->body, plan_.vessel, 0.5 * plan_.clock.step,
                           tags_[free.tag].state.move);
    }
  }

  void remember_places() {
    for (std::size_t d = 0; d < plan_.designs.size(); ++d) {
      const DesignPlan& design = plan_.designs[d];
      for (int i = 0; i < design.count; ++i) {
        tallies_[d].remember(i, tags_[design.first_tag + i].state.move.p_W);
      }
    }
  }

  void glow(std::int64_t k) {
    lit_now_ = 0;
    const bool traced = replicate_ < plan_.traced_replicates && k % plan_.clock.trace_every == 0;
    if (traced) result_.trace.time.push_back(static_cast<double>(k + 1) * plan_.clock.step);
    for (std::size_t d = 0; d < plan_.designs.size(); ++d) {
      with_linkage(plan_, plan_.designs[d], [&](const auto& linkage) { glow_design(d, k, traced, linkage); });
    }
    ++result_.vessel.lit_at_once[lit_now_];
    dark_ = lit_now_ == 0 ? dark_ + 1 : 0;
    longest_dark_ = std::max(longest_dark_, dark_);
  }

  template <class Linkage>
  void glow_design(std::size_t d, std::int64_t k, bool traced, const Linkage& linkage) {
    const DesignPlan& design = plan_.designs[d];
    const bool sample_place = k % plan_.clock.place_every == 0,
               sample_rest = k % plan_.clock.pinned_every == 0;
    lit_.resize(design.fits.size());
    for (int i = 0; i < design.count; ++i) {
      Tag& tag = tags_[design.first_tag + i];
      const auto& move = tag.state.move;
      const double squared = linkage.squared(design, move.p_W, tag.state.n_W);
      const double amplitude = numeric::square_root(squared);
      for (std::size_t f = 0; f < tag.fits.size(); ++f) {
        const BuiltFit& fit = tag.fits[f];
        lit_[f] = squared >= fit.on_linkage_squared;
        tag.tallies[f].step(lit_[f], fit.current.at(amplitude), plan_.clock.step);
        tag.tallies[f].over_rating_steps += squared > fit.over_rating_linkage_squared;
      }
      lit_now_ += lit_[design.carried[i]];
      if (sample_place) tallies_[d].place(move.p_W, numeric::norm(move.v_W), lit_);
      if (sample_rest) {
        tallies_[d].rest(i, move.p_W, motion::gaps(design.body, plan_.vessel, move.p_W));
        tallies_[d].remember(i, move.p_W);
      }
      if (traced) record(tag.state, amplitude);
    }
  }

  void record(const TagState<double>& state, double amplitude) {
    Trace& trace = result_.trace;
    const auto push = [](std::vector<float>& to, const Vec3<double>& a) {
      for (const double x : {a.x, a.y, a.z}) to.push_back(static_cast<float>(x));
    };
    push(trace.place, state.move.p_W);
    push(trace.velocity, state.move.v_W);
    push(trace.axis, state.n_W);
    trace.linkage.push_back(static_cast<float>(amplitude));
    std::uint8_t bits = 0;
    for (std::size_t f = 0; f < lit_.size() && f < 8; ++f)
      bits = static_cast<std::uint8_t>(bits | (lit_[f] << f));
    trace.lit.push_back(bits);
  }

  void check_finite() const {
    for (std::size_t i = 0; i < tags_.size(); ++i) {
      const auto& s = tags_[i].state;
      const double sum = numeric::norm(s.move.p_W) + numeric::norm(s.move.v_W) +
                         numeric::norm(s.move.omega_W) + numeric::norm(s.n_W) + numeric::norm(s.fluctuation);
      if (!std::isfinite(sum)) {
        throw LogicError(
            fmt::format("replicate {}, tag {}: its state is no longer a finite number", replicate_, i));
      }
    }
  }

  FitResult fit_result(const DesignPlan& design, std::size_t f) const {
    FitResult result{};
    const double steps = static_cast<double>(plan_.clock.duration), dt = plan_.clock.step;
    const double minutes = steps * dt / 60.0;
    const double per_current = design.leds.empty() ? 0.0 : design.leds[f].intensity_per_current;
    std::int64_t whole_on = 0, whole_off = 0, on_steps = 0, off_steps = 0;
    double effective = 0.0;
    for (int i = 0; i < design.count; ++i) {
      const SpellTally& tally = tags_[design.first_tag + i].tallies[f];
      result.tag_duty.push_back(static_cast<double>(tally.on_steps) / steps);
      result.duty += result.tag_duty.back() / design.count;
      result.flashes_per_minute += static_cast<double>(tally.flashes) / minutes / design.count;
      result.mean_current += tally.current_sum / steps / design.count;
      result.over_rating += static_cast<double>(tally.over_rating_steps) / steps / design.count;
      whole_on += tally.whole_on;
      whole_off += tally.whole_off;
      on_steps += tally.whole_on_steps;
      off_steps += tally.whole_off_steps;
      effective += tally.effective_current_sum * per_current;
      for (int b = 0; b < spell_bins; ++b) {
        result.on_spells[b] += tally.on_spells[b];
        result.off_spells[b] += tally.off_spells[b];
      }
    }
    const double none = std::numeric_limits<double>::quiet_NaN();
    result.mean_on_spell =
        whole_on > 0 ? static_cast<double>(on_steps) * dt / static_cast<double>(whole_on) : none;
    result.mean_off_spell =
        whole_off > 0 ? static_cast<double>(off_steps) * dt / static_cast<double>(whole_off) : none;
    result.mean_intensity = result.mean_current * per_current;
    result.effective_intensity = whole_on > 0 ? effective / static_cast<double>(whole_on) : none;
    return result;
  }

  void add_carried_light(const DesignPlan& design) {
    if (design.leds.empty()) return;
    for (int i = 0; i < design.count; ++i) {
      const LedPlan& led = design.leds[design.carried[i]];
      const SpellTally& tally = tags_[design.first_tag + i].tallies[design.carried[i]];
      const auto colour =
          std::find(plan_.colours.begin(), plan_.colours.end(), led.colour) - plan_.colours.begin();
      result_.vessel.colour_intensity[colour] +=
          tally.current_sum / static_cast<double>(plan_.clock.duration) * led.intensity_per_current;
    }
  }

  ReplicateResult finish() {
    for (std::size_t d = 0; d < plan_.designs.size(); ++d) {
      const DesignPlan& design = plan_.designs[d];
      DesignResult result{};
      for (std::size_t f = 0; f < design.fits.size(); ++f) result.fits.push_back(fit_result(design, f));
      tallies_[d].write(result);
      result_.designs.push_back(std::move(result));
      add_carried_light(design);
    }
    result_.vessel.longest_dark = static_cast<double>(longest_dark_) * plan_.clock.step;
    return std::move(result_);
  }

  const Plan& plan_;
  int replicate_;
  std::vector<Tag> tags_;
  std::vector<FreeTag> free_;
  std::vector<PlaceTally> tallies_;
  std::vector<std::uint8_t> lit_;
  int lit_now_ = 0;
  std::int64_t dark_ = 0, longest_dark_ = 0;
  ReplicateResult result_;
};

}  // namespace

ReplicateResult fly_replicate(const Plan& plan, int replicate, Timing& timing) {
  const double begin = thread_cpu_seconds();
  Vessel vessel(plan, replicate);
  const double built = thread_cpu_seconds();
  ReplicateResult result = vessel.fly();
  timing = {built - begin, thread_cpu_seconds() - built};
  return result;
}

}  // namespace driftglow::flight
