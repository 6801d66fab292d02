#include "sim/flight/vessel_block.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "models/error.hpp"
#include "sim/flight/random.hpp"

namespace driftglow::flight {
namespace {

int slots_of(const Plan& plan) {
  int slots = 0;
  for (const DesignPlan& design : plan.designs) slots += design.count * design.slot_count();
  return slots;
}

// Steps between two savings of the single-precision sums.
constexpr std::int64_t most_steps_unsaved = 64;
// Tag steps between two reports of progress.
constexpr std::int64_t report_every = 1 << 20;
// Beyond the vessel's inside by more [m] is outside: contact leaves micrometres, the mirror of tracers too.
constexpr double leeway = 1e-3;
// m/s, the speed of sound in air at 20 degC: nothing here holds beyond it, all air is taken as
// incompressible.
constexpr double fastest = 343.0;

}  // namespace

template <class Real>
template <class Use>
void VesselBlock<Real>::each_tag(const Use& use) const {
  int slot = 0;
  for (std::size_t d = 0; d < plan_.designs.size(); ++d) {
    const DesignPlan& design = plan_.designs[d];
    for (int i = 0; i < design.count; ++i, slot += design.slot_count()) {
      use(static_cast<int>(d), i, design.first_tag + i, slot);
    }
  }
}

template <class Real>
VesselBlock<Real>::VesselBlock(const Plan& plan, const Kernel<Real>& kernel, int first, int count)
    : plan_(plan), kernel_(kernel), first_(first), count_(count), glow_(plan, kernel.lanes) {
  const std::size_t lanes = kernel.lanes, tags = plan.tags, slots = slots_of(plan);
  state_.resize(tags * state_numbers * lanes);
  kicks_.resize(tags * kick_numbers * lanes);
  air_.resize(tags * air_numbers * lanes);
  linkage_squared_.resize(tags * lanes);
  on_.resize(slots * lanes);
  over_.resize(slots * lanes);
  table_.resize(slots * lanes * table_length);
  current_sum_.resize(slots * lanes);
  stream_state_.resize(tags * lanes);
  stream_increment_.resize(tags * lanes);
  lit_.resize(slots);
  if (plan.coupling) {
    linkage_parts_.resize(2 * tags * lanes);
    seen_squared_.resize(slots * lanes);
    poses_.resize(tags);
    seen_.resize(slots);
    uncoupled_steps_.resize(lanes);
    for (const DesignPlan& design : plan.designs) direct_on_steps_.emplace_back(design.fits.size() * lanes);
  }
  traces_.resize(std::clamp(plan.traced_replicates - first, 0, count));
  recorded_sums_.resize(traces_.size() * slots, 0.0);
  for (const DesignPlan& design : plan.designs) {
    nodes_per_linkage_.push_back(design.tank ? CurrentTable::intervals / design.linkage_max : 0.0);
    places_.emplace_back(lanes, PlaceTally(plan, design));
  }
  for (int lane = 0; lane < kernel.lanes; ++lane) start(lane, first + std::min(lane, count - 1));
  arrays_ = {kernel.lanes,        state_.data(), stream_state_.data(),      stream_increment_.data(),
             kicks_.data(),       air_.data(),   linkage_squared_.data(),   on_.data(),
             over_.data(),        table_.data(), nodes_per_linkage_.data(), lit_.data(),
             current_sum_.data(), &glow_,        linkage_parts_.data(),     seen_squared_.data()};
}

template <class Real>
void VesselBlock<Real>::start(int lane, int replicate) {
  const std::size_t lanes = kernel_.lanes;
  // What is dropped needs no drive of its own.
  if (lane < count_) meters_.push_back({built_drive(plan_, replicate), {}});
  const auto& drive = meters_.back().drive.draw;
  const auto tags = start_vessel(plan_, replicate, drive);
  if (plan_.coupling && lane < count_) coupled_.emplace_back(plan_, tags, drive);
  each_tag([&](int d, int, int tag, int slot) {
    Real* state = &state_[static_cast<std::size_t>(tag) * state_numbers * lanes + lane];
    each_number(tags[tag].state, [&](double x) {
      *state = static_cast<Real>(x);
      state += lanes;
    });
    const Purpose purpose = plan_.designs[d].hold ? Purpose::axis : Purpose::air;
    const auto stream = stream_state(plan_.seed, replicate, tag, purpose);
    const std::size_t place = tag * lanes + numeric::stream_slot(lane, kernel_.lanes);
    stream_state_[place] = stream.state;
    stream_increment_[place] = stream.increment;
    const auto fill = [&](const BuiltFit& fit, const CurrentTable& current) {
      const std::size_t at = slot++ * lanes + lane;
      on_[at] = static_cast<Real>(fit.on_linkage_squared);
      over_[at] = static_cast<Real>(fit.over_rating_linkage_squared);
      const auto nodes = current.nodes();
      for (std::size_t i = 0; i < table_length; ++i)
        table_[at * table_length + i] = static_cast<Real>(nodes[std::min(i, nodes.size() - 1)]);
    };
    for (const BuiltFit& fit : tags[tag].fits) fill(fit, fit.current);
    for (const int pair : plan_.designs[d].pairs)
      fill(tags[tag].fits[pair], tags[tag].fits[pair].antiparallel_current.value());
  });
}

template <class Real>
void VesselBlock<Real>::move(std::int64_t step) {
  for (const Stage stage : {stir, sample_air, advance, touch_tags, touch_vessel}) run(stage, step);
}

template <class Real>
void VesselBlock<Real>::glow(std::int64_t step) {
  if (!plan_.coupling) {
    run(see_field, step);
    run(shine, step);
    return;
  }
  kernel_.see_phasors(plan_, arrays_, step);
  couple();
  kernel_.shine_coupled(plan_, arrays_, step);
}

template <class Real>
void VesselBlock<Real>::couple() {
  const std::size_t lanes = kernel_.lanes;
  for (int lane = 0; lane < count_; ++lane) {
    for (int tag = 0; tag < plan_.tags; ++tag) {
      const auto p = vector(tag, place_x, lane), n = vector(tag, axis_x, lane);
      const Real* parts = &linkage_parts_[2 * tag * lanes + lane];
      poses_[tag] = {{{p.x, p.y, p.z}, {n.x, n.y, n.z}},
                     {static_cast<double>(parts[0]), static_cast<double>(parts[lanes])}};
      // A lost tag is dark and far from all others.
      if (loss(tag, lane)) poses_[tag] = {{{1e6 * (1.0 + tag), 0.0, 0.0}, {0.0, 0.0, 1.0}}, {0.0, 0.0}};
    }
    if (!coupled_[lane].see(poses_, seen_)) ++uncoupled_steps_[lane];
    for (std::size_t slot = 0; slot < seen_.size(); ++slot)
      seen_squared_[slot * lanes + lane] = static_cast<Real>(seen_[slot]);
  }
  // Lanes beyond the wanted replicates are never looked at: what they see does not matter.
  each_tag([&](int d, int, int tag, int slot) {
    for (int f = 0; f < plan_.designs[d].fit_count(); ++f) {
      for (int lane = 0; lane < count_; ++lane) {
        direct_on_steps_[d][f * lanes + lane] +=
            on_[(slot + f) * lanes + lane] <= linkage_squared_[tag * lanes + lane];
      }
    }
  });
}

template <class Real>
void VesselBlock<Real>::remember() {
  each_tag([&](int d, int i, int tag, int) {
    for (int lane = 0; lane < count_; ++lane) places_[d][lane].remember(i, vector(tag, place_x, lane));
  });
}

template <class Real>
void VesselBlock<Real>::sample(std::int64_t step) {
  const bool place = step % plan_.clock.place_every == 0, rest = step % plan_.clock.pinned_every == 0;
  each_tag([&](int d, int i, int tag, int slot) {
    const DesignPlan& design = plan_.designs[d];
    for (int lane = 0; lane < count_; ++lane) {
      if (!gone_.empty() && is_lost(tag, lane)) continue;
      const auto p = vector(tag, place_x, lane);
      if (place) {
        std::uint32_t lit = 0;
        for (int f = 0; f < design.fit_count(); ++f) lit |= ((lit_[slot + f] >> lane) & 1U) << f;
        places_[d][lane].place(p, numeric::norm(vector(tag, velocity_x, lane)), lit);
      }
      if (rest) {
        places_[d][lane].rest(i, p,
                              plan_.vessel.wall() == air::WallShape::tapered
                                  ? motion::gaps<air::WallShape::tapered>(design.body, plan_.vessel, p)
                                  : motion::gaps(design.body, plan_.vessel, p));
        places_[d][lane].remember(i, p);
      }
    }
  });
  if (rest) meter();
  if (step % plan_.clock.trace_every == 0) record(step);
}

// What the tags draw in the last step.
template <class Real>
void VesselBlock<Real>::meter() {
  if (!plan_.power) return;
  const auto& squared = plan_.coupling ? seen_squared_ : linkage_squared_;
  each_tag([&](int d, int i, int tag, int slot) {
    const DesignPlan& design = plan_.designs[d];
    if (!design.tank) return;
    const int fit = design.carried[i];
    const std::size_t first = static_cast<std::size_t>(plan_.coupling ? slot + fit : tag) * kernel_.lanes;
    for (int lane = 0; lane < count_; ++lane) {
      if (!gone_.empty() && is_lost(tag, lane)) continue;
      const double linkage = std::sqrt(static_cast<double>(squared[first + lane]));
      meters_[lane].sum += design.power[fit].at(plan_.omega * meters_[lane].drive.draw.emf() * linkage);
    }
  });
  ++metered_;
}

template <class Real>
void VesselBlock<Real>::record(std::int64_t step) {
  for (int lane = 0; lane < static_cast<int>(traces_.size()); ++lane) {
    Trace& trace = traces_[lane];
    // The first sample is taken after a single step.
    const double steps = trace.time.empty() ? 1.0 : static_cast<double>(plan_.clock.trace_every);
    trace.time.push_back(static_cast<double>(step + 1) * plan_.clock.step);
    double* recorded = &recorded_sums_[lane * lit_.size()];
    const auto push = [&](std::vector<float>& to, int tag, int number) {
      for (int k = 0; k < 3; ++k) to.push_back(static_cast<float>(state(tag, number + k, lane)));
    };
    each_tag([&](int d, int, int tag, int slot) {
      push(trace.place, tag, place_x);
      push(trace.velocity, tag, velocity_x);
      push(trace.axis, tag, axis_x);
      const auto squared = static_cast<double>(linkage_squared_[tag * kernel_.lanes + lane]);
      trace.linkage.push_back(static_cast<float>(numeric::square_root(squared)));
      std::uint32_t lit = 0;
      for (int f = 0; f < plan_.designs[d].fit_count(); ++f) lit |= ((lit_[slot + f] >> lane) & 1U) << f;
      for (int s = slot; s < slot + plan_.designs[d].slot_count(); ++s) {
        const double sum = glow_.current_sum(s, lane);
        trace.current.push_back(static_cast<float>((sum - recorded[s]) / steps));
        recorded[s] = sum;
      }
      trace.lit.push_back(static_cast<std::uint8_t>(lit));
    });
  }
}

template <class Real>
void VesselBlock<Real>::fly(const std::function<void(std::int64_t)>& flown,
                            const std::function<void(std::int64_t)>& stepped) {
  const Clock& clock = plan_.clock;
  std::int64_t unreported = 0;
  const auto count_steps = [&](std::int64_t steps) {
    unreported += steps * plan_.tags * count_;
    if (unreported < report_every) return;
    flown(unreported);
    unreported = 0;
  };
  for (std::int64_t left = clock.warmup; left > 0; --left) {
    if (left % clock.pinned_every == 0) remember();
    move(-left);
    if (stepped) stepped(-left);
    count_steps(1);
  }
  look_for_lost(0);
  // The first step from `from` on after which something is sampled.
  const auto next = [](std::int64_t from, std::int64_t every) { return (from + every - 1) / every * every; };
  for (std::int64_t step = 0; step < clock.duration;) {
    const std::int64_t begin = step;
    const std::int64_t last =
        std::min({next(step, clock.place_every), next(step, clock.pinned_every),
                  next(step, clock.trace_every), step + most_steps_unsaved - 1, clock.duration - 1});
    for (; step <= last; ++step) {
      move(step);
      glow(step);
      if (stepped) stepped(step);
    }
    look_for_lost(step);
    drop_lost_light();
    glow_.save(current_sum_.data());
    sample(last);
    count_steps(step - begin);
  }
  glow_.end(clock.duration);
  flown(unreported);
}

// Whatever number of a state goes wrong shows in place or axis a step or two later, or in the linkage.
template <class Real>
std::optional<Loss> VesselBlock<Real>::loss(int tag, int lane) const {
  const auto p = vector(tag, place_x, lane), v = vector(tag, velocity_x, lane), n = vector(tag, axis_x, lane);
  const double sum =
      numeric::dot(p, p) + numeric::dot(n, n) + numeric::dot(v, v) + linkage_squared(tag, lane);
  if (!std::isfinite(sum)) return Loss::not_finite;
  if (std::hypot(p.x, p.y) > plan_.vessel.radius_at(p.z) + leeway || p.z < -leeway ||
      p.z > plan_.vessel.height + leeway)
    return Loss::outside;
  if (numeric::norm(v) > fastest) return Loss::too_fast;
  return std::nullopt;
}

// Whether any lane's tag may be lost: the same as loss(), quick, with a hair to spare; by a cone's narrow
// end, so that there loss() is asked more often.
template <class Real>
bool VesselBlock<Real>::suspicious(int tag) const {
  const int lanes = kernel_.lanes;
  const Real* s = &state_[static_cast<std::size_t>(tag) * state_numbers * lanes];
  const Real* squared = &linkage_squared_[static_cast<std::size_t>(tag) * lanes];
  const auto radius = static_cast<Real>(plan_.vessel.narrowest() + 0.5 * leeway);
  const auto low = static_cast<Real>(-0.5 * leeway),
             high = static_cast<Real>(plan_.vessel.height + 0.5 * leeway);
  constexpr auto speed = static_cast<Real>(0.9 * fastest), most = std::numeric_limits<Real>::max();
  int wrong = 0;
  for (int lane = 0; lane < lanes; ++lane) {
    const auto number = [&](int which) { return s[which * lanes + lane]; };
    const auto square = [&](int which) {
      return number(which) * number(which) + number(which + 1) * number(which + 1);
    };
    const Real z = number(place_x + 2), v_z = number(velocity_x + 2), n_z = number(axis_x + 2);
    const Real r2 = square(place_x), v2 = square(velocity_x) + v_z * v_z, n2 = square(axis_x) + n_z * n_z;
    const bool right = (r2 <= radius * radius) & (z >= low) & (z <= high) & (v2 <= speed * speed) &
                       (n2 <= most) & (squared[lane] <= most);
    wrong |= !right;
  }
  return wrong != 0;
}

template <class Real>
bool VesselBlock<Real>::is_lost(int tag, int lane) const {
  return std::any_of(gone_.begin(), gone_.end(),
                     [&](const Gone& gone) { return gone.lane == lane && gone.tag.tag == tag; });
}

// Tags that are lost after `steps` steps from the end of warm-up on leave the flight. Their state is not a
// number from then on, which touches no other tag and is never lit.
template <class Real>
void VesselBlock<Real>::look_for_lost(std::int64_t steps) {
  each_tag([&](int d, int, int tag, int slot) {
    if (!suspicious(tag)) return;
    for (int lane = 0; lane < kernel_.lanes; ++lane) {
      if (is_lost(tag, lane)) continue;
      const auto found = loss(tag, lane);
      if (!found) continue;
      gone_.push_back({lane, slot, plan_.designs[d].slot_count(), {tag, steps, *found}});
      glow_.lose(tag, lane, steps);
      for (int number = 0; number < state_numbers; ++number)
        state_[(static_cast<std::size_t>(tag) * state_numbers + number) * kernel_.lanes + lane] =
            std::numeric_limits<Real>::quiet_NaN();
    }
  });
}

// What the step read from the current tables for lost tags.
template <class Real>
void VesselBlock<Real>::drop_lost_light() {
  for (const Gone& gone : gone_) {
    for (int slot = gone.slot; slot < gone.slot + gone.slots; ++slot)
      current_sum_[static_cast<std::size_t>(slot) * kernel_.lanes + gone.lane] = 0;
  }
}

template <class Real>
std::uint32_t VesselBlock<Real>::lit(int tag, int lane) const {
  std::uint32_t lit = 0;
  each_tag([&](int d, int, int number, int slot) {
    if (number != tag) return;
    for (int f = 0; f < plan_.designs[d].fit_count(); ++f) lit |= ((lit_[slot + f] >> lane) & 1U) << f;
  });
  return lit;
}

template <class Real>
std::vector<ReplicateResult> VesselBlock<Real>::results() const {
  std::vector<ReplicateResult> results;
  for (int lane = 0; lane < count_; ++lane) {
    ReplicateResult result{{}, glow_.vessel_result(lane), {}, {}, {}};
    if (const auto& power = meters_[lane].drive.power)
      result.ledger = balance(*power, meters_[lane].sum * (1.0 / static_cast<double>(metered_)));
    for (const Gone& gone : gone_)
      if (gone.lane == lane) result.lost.push_back(gone.tag);
    std::sort(result.lost.begin(), result.lost.end(),
              [](const LostTag& a, const LostTag& b) { return a.tag < b.tag; });
    if (plan_.coupling)
      result.vessel.uncoupled_share =
          static_cast<double>(uncoupled_steps_[lane]) / static_cast<double>(plan_.clock.duration);
    for (int d = 0; d < static_cast<int>(plan_.designs.size()); ++d) {
      DesignResult design{};
      for (int f = 0; f < plan_.designs[d].fit_count(); ++f) {
        design.fits.push_back(glow_.fit_result(lane, d, f));
        if (!plan_.coupling) continue;
        const double tag_steps = glow_.tag_steps(lane, d);
        design.fits.back().coupling_shift =
            design.fits.back().duty -
            static_cast<double>(direct_on_steps_[d][f * kernel_.lanes + lane]) / tag_steps;
      }
      places_[d][lane].write(design);
      result.designs.push_back(std::move(design));
    }
    if (lane < static_cast<int>(traces_.size())) result.trace = traces_[lane];
    results.push_back(std::move(result));
  }
  return results;
}

template class VesselBlock<double>;
template class VesselBlock<float>;

}  // namespace driftglow::flight
