#include "sim/flight/start.hpp"

#include <fmt/format.h>

#include <limits>

#include "models/error.hpp"
#include "sim/flight/draws.hpp"
#include "sim/flight/random.hpp"

namespace driftglow::flight {
namespace {

Vec3<double> draw_axis(pcg32& stream) {
  const double first = uniform(stream);
  return isotropic(first, uniform(stream));
}

Kicks<double> draw_fluctuations(pcg32& stream) {
  double u[6];
  for (double& x : u) x = uniform(stream);
  return kicks_of(u);
}

Vec3<double> vector(const std::array<double, 3>& a) {
  return {a[0], a[1], a[2]};
}

// Uniform in the tag's reach.
Vec3<double> draw_place(const Plan& plan, const DesignPlan& design, pcg32& stream) {
  const double radius = design.body.radius, apart = radius / plan.vessel.cosine();
  const double reach = plan.vessel.widest() - apart;
  // In a cone what falls beside it is drawn again.
  while (true) {
    const double r = reach * numeric::square_root(uniform(stream));
    const auto turn = numeric::sine_cosine_of_turns(uniform(stream));
    const double z = radius + (plan.vessel.height - 2.0 * radius) * uniform(stream);
    if (r <= plan.vessel.radius_at(z) - apart) return {r * turn.cosine, r * turn.sine, z};
  }
}

// A solid tag that looks for its place.
struct FreeTag {
  const DesignPlan* design;
  pcg32 stream;
  motion::TagState<double>* state;
};

// Whether free tag i stands clear of those before it.
bool clear(const std::vector<FreeTag>& free, std::size_t i) {
  for (std::size_t j = 0; j < i; ++j) {
    if (motion::overlap(free[i].design->body, free[j].design->body, free[i].state->move.p_W,
                        free[j].state->move.p_W))
      return false;
  }
  return true;
}

bool try_to_place(const Plan& plan, std::vector<FreeTag>& free) {
  constexpr int tries = 1000;
  for (std::size_t i = 0; i < free.size(); ++i) {
    int left = tries;
    while (left > 0 && !clear(free, i)) {
      free[i].state->move.p_W = draw_place(plan, *free[i].design, free[i].stream);
      --left;
    }
    if (left == 0) return false;
  }
  return true;
}

// One after the other where there is room; all of them anew when one finds none, since the first ones may
// stand in the way.
void place(const Plan& plan, std::vector<FreeTag>& free) {
  constexpr int attempts = 200;
  for (int i = 0; i < attempts; ++i) {
    if (try_to_place(plan, free)) return;
    for (FreeTag& tag : free) tag.state->move.p_W = draw_place(plan, *tag.design, tag.stream);
  }
  throw InputError(fmt::format(
      "tags: {} of them cannot be placed in the vessel without overlap; expected fewer or smaller tags",
      free.size()));
}

motion::TagState<double> begin(const Plan& plan, const DesignPlan& design, pcg32& stream) {
  const Vec3<double> none{0.0, 0.0, 0.0};
  const Vec3<double> axis = draw_axis(stream);
  const auto [fluctuation, spin_fluctuation] = draw_fluctuations(stream);
  motion::TagState<double> state{{none, none, none}, axis, fluctuation, spin_fluctuation, none, none};
  if (!design.hold) {
    state.move.p_W = draw_place(plan, design, stream);
    return state;
  }
  state.move.p_W = vector(design.hold->place);
  if (design.hold->axis) state.n_W = vector(*design.hold->axis);
  return state;
}

std::vector<BuiltFit> build(const Plan& plan, const DesignPlan& design, int replicate, int tag,
                            const DriveDraw& drive) {
  if (!design.family) {
    const double threshold = *design.threshold / drive.current;
    return {{threshold * threshold, std::numeric_limits<double>::infinity(), {}}};
  }
  pcg32 stream = random_stream(plan.seed, replicate, tag, Purpose::build);
  return plan.families[*design.family].build(stream, drive);
}

}  // namespace

std::vector<StartedTag> start_vessel(const Plan& plan, int replicate, const DriveDraw& drive) {
  std::vector<StartedTag> tags(plan.tags);
  std::vector<FreeTag> free;
  for (const DesignPlan& design : plan.designs) {
    for (int tag = design.first_tag; tag < design.first_tag + design.count; ++tag) {
      pcg32 stream = random_stream(plan.seed, replicate, tag, Purpose::start);
      tags[tag].state = begin(plan, design, stream);
      tags[tag].fits = build(plan, design, replicate, tag, drive);
      if (design.solid()) free.push_back({&design, stream, &tags[tag].state});
    }
  }
  place(plan, free);
  return tags;
}

}  // namespace driftglow::flight
