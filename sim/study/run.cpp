#include "sim/study/run.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <future>
#include <memory>
#include <mutex>
#include <nlopt.hpp>
#include <numeric>
#include <set>

#include "models/error.hpp"
#include "sim/maps/air_state.hpp"
#include "sim/maps/drive_state.hpp"
#include "sim/parallel/pool.hpp"
#include "sim/results/files.hpp"
#include "sim/sheet/design_sheet.hpp"
#include "sim/study/analysis.hpp"
#include "sim/study/json_value.hpp"

namespace driftglow::study {
namespace {

// A wrong path of an output is wrong for every design.
struct PathFault : InputError {
  using InputError::InputError;
};

struct Stopped {};

struct Job {
  int design, first, end;
};

// A design that can be flown, with what its sheet says.
struct Ready {
  scenario::Scenario scenario;
  flight::Plan plan;
  std::vector<std::vector<double>> values;  // of a DesignResult, those of the sheet filled in
};

class Runner {
 public:
  Runner(const Study& study, const RunSettings& settings, const std::stop_token& stop, const RunHooks& hooks,
         std::vector<Piece> kept)
      : study_(study), settings_(settings), stop_(stop), hooks_(hooks) {
    for (const auto& output : study.outputs) {
      needs_sheet_ = needs_sheet_ || output.document == Document::sheet;
      needs_flight_ = needs_flight_ || output.document == Document::flight;
    }
    std::sort(kept.begin(), kept.end(), [](const Piece& a, const Piece& b) {
      return std::pair(a.design, a.first) < std::pair(b.design, b.first);
    });
    for (auto& piece : kept) add(stored_[piece.design], std::move(piece.result));
  }

  Table run() {
    try {
      fly_all();
    } catch (const Stopped&) {
      table_.interrupted = true;
    }
    return std::move(table_);
  }

 private:
  void fly_all() {
    for (auto& design : study_.planned()) append(std::move(design));
    table_.range = flight::range_of(settings_.part, static_cast<int>(table_.designs.size()));
    std::vector<Job> jobs;
    for (int i = table_.range.first; i < table_.range.end; ++i)
      jobs.push_back({i, 0, study_.flights.replicates});
    fly(jobs);
    if (std::all_of(jobs.begin(), jobs.end(),
                    [&](const Job& job) { return !table_.results[job.design].refused.empty(); }))
      throw InputError(fmt::format("{}: no design of the study can be built; the first one: {}",
                                   study_.base_shown, table_.results[table_.range.first].refused));
    if (study_.kind == DesignKind::search) search();
    if (!needs_flight_) return;
    study_.flights.spend == Spend::ranks ? settle_ranks() : settle_all();
  }

  int append(Coordinates design) {
    table_.designs.push_back(std::move(design));
    table_.results.emplace_back();
    return static_cast<int>(table_.designs.size()) - 1;
  }

  void add(DesignResult& to, DesignResult piece) const {
    if (!piece.refused.empty()) to.refused = piece.refused;
    to.values.resize(study_.outputs.size());
    for (std::size_t o = 0; o < piece.values.size(); ++o) {
      if (study_.outputs[o].document == Document::sheet)
        to.values[o] = std::move(piece.values[o]);
      else
        to.values[o].insert(to.values[o].end(), piece.values[o].begin(), piece.values[o].end());
    }
    to.replicates += piece.replicates;
  }

  // A study's work is counted in replicates.
  void plan_for(int replicates) {
    progress_.replicates_planned = std::max(progress_.replicates_planned, replicates);
    progress_.tag_steps_planned = progress_.replicates_planned;
  }

  // Every design up to its job's end, from what is stored where it is. Only what was asked for shows in the
  // table: a study that goes on decides as the straight one did.
  void fly(const std::vector<Job>& jobs) {
    std::vector<Job> missing;
    for (const Job& job : jobs) {
      const auto& stored = stored_[job.design];
      if (stored.refused.empty() && stored.replicates < job.end)
        missing.push_back({job.design, stored.replicates, job.end});
    }
    int planned = progress_.replicates_done;
    std::set<int> concerned;
    for (const Job& job : missing) {
      planned += job.end - job.first;
      concerned.insert(job.design);
    }
    plan_for(planned);
    std::erase_if(ready_, [&](const auto& entry) { return !concerned.contains(entry.first); });
    std::mutex reporting;
    const int at_once = std::max(1, std::min(settings_.threads, static_cast<int>(missing.size())));
    const auto outcome = parallel::run_blocks(
        missing.size(), at_once,
        [&](std::size_t i) {
          Piece piece{missing[i].design, missing[i].first,
                      fly_one(missing[i], std::max(1, settings_.threads / at_once))};
          if (piece.result.replicates == 0 && piece.result.refused.empty()) return;  // stopped on the way
          if (hooks_.finished) hooks_.finished(piece);
          const std::lock_guard lock(reporting);
          add(stored_[piece.design], std::move(piece.result));
          progress_.replicates_done += missing[i].end - missing[i].first;
          progress_.tag_steps_done = progress_.replicates_done;
          if (hooks_.progress) hooks_.progress(progress_);
        },
        stop_);
    if (outcome == parallel::Outcome::stopped || stop_.stop_requested()) throw Stopped{};
    for (const Job& job : jobs) {
      const auto& stored = stored_[job.design];
      auto& shown = table_.results[job.design];
      shown.refused = stored.refused;
      shown.replicates = std::min(job.end, stored.replicates);
      shown.values = stored.values;
      for (std::size_t o = 0; o < shown.values.size(); ++o) {
        if (study_.outputs[o].document == Document::flight) shown.values[o].resize(shown.replicates);
      }
    }
  }

  std::shared_ptr<const maps::AirState> air_of(const scenario::Scenario& scenario,
                                               const scenario::Node& tree) {
    std::string depends_on;
    for (const char* key : {"ambient", "vessel", "air"}) depends_on += scenario::dump(tree, key) + "\n";
    // Tags weigh on a fan.
    depends_on += fmt::format("{}", maps::tag_weight(scenario));
    std::promise<std::shared_ptr<const maps::AirState>> promise;
    std::shared_future<std::shared_ptr<const maps::AirState>> air;
    bool ours = false;
    {
      const std::lock_guard lock(air_mutex_);
      constexpr std::size_t most = 16;
      if (airs_.size() >= most && !airs_.contains(depends_on)) airs_.clear();
      const auto [found, fresh] = airs_.try_emplace(depends_on);
      if (fresh) found->second = promise.get_future().share();
      air = found->second;
      ours = fresh;
    }
    if (ours) {
      // Others who need it wait, since solved air takes longer than a flight.
      try {
        promise.set_value(std::make_shared<const maps::AirState>(maps::make_air(scenario)));
      } catch (...) {
        promise.set_exception(std::current_exception());
      }
    }
    return air.get();
  }

  flight::Plan plan_of(const scenario::Scenario& scenario, const scenario::Node& tree, int threads) {
    auto plan =
        flight::make_plan(scenario, *air_of(scenario, tree), maps::make_drive(scenario, "", &coil_maps_));
    if (needs_flight_) flight::solve_all(plan.families, threads, stop_);
    return plan;
  }

  std::string shown(const Coordinates& design) const {
    std::string text;
    for (std::size_t k = 0; k < design.size(); ++k)
      text +=
          fmt::format("{}{} = {}", k == 0 ? "" : ", ", study_.variables[k].name, study_.shown(k, design[k]));
    return text;
  }

  // Nothing where it was stopped. Some are kept for the next look: to make one takes longer than some of its
  // flights.
  std::shared_ptr<const Ready> ready_of(int design, int threads) {
    {
      const std::lock_guard lock(ready_mutex_);
      if (const auto found = ready_.find(design); found != ready_.end()) return found->second;
    }
    const auto tree = study_.tree_at(table_.designs[design]);
    auto scenario = study_.scenario_at(table_.designs[design]);
    auto plan = plan_of(scenario, *tree, threads);
    if (stop_.stop_requested()) return nullptr;
    std::vector<std::vector<double>> values(study_.outputs.size());
    if (needs_sheet_) sheet_values(scenario, plan, values);
    auto ready =
        std::make_shared<const Ready>(Ready{std::move(scenario), std::move(plan), std::move(values)});
    constexpr std::size_t most = 32;
    const std::lock_guard lock(ready_mutex_);
    if (ready_.size() < most) ready_.emplace(design, ready);
    return ready;
  }

  DesignResult fly_one(const Job& job, int threads) {
    DesignResult result;
    result.values.resize(study_.outputs.size());
    try {
      const auto ready = ready_of(job.design, threads);
      if (!ready) return result;
      result.values = ready->values;
      if (!needs_flight_) {
        result.replicates = job.end - job.first;
        return result;
      }
      if (!fly_replicates(job, *ready, threads, result)) return {};
    } catch (const PathFault&) {
      throw;
    } catch (const InputError& error) {
      result = {};
      result.values.resize(study_.outputs.size());
      result.refused = error.what();
    }
    return result;
  }

  double value(const nlohmann::ordered_json& document, const Output& output) const {
    const auto found = json_value(document, output.path);
    if (const auto* what = std::get_if<std::string>(&found))
      throw PathFault(fmt::format("{}{} {}", output.where, scenario::quote(output.path), *what));
    return std::get<double>(found);
  }

  void sheet_values(const scenario::Scenario& scenario, const flight::Plan& plan,
                    std::vector<std::vector<double>>& values) const {
    const auto document = sheet::sheet_json(sheet::make_sheet(scenario, plan));
    for (std::size_t o = 0; o < study_.outputs.size(); ++o) {
      if (study_.outputs[o].document == Document::sheet) values[o] = {value(document, study_.outputs[o])};
    }
  }

  // A design whose tags get lost has no results that can be ranked.
  static void check_lost(const std::vector<std::vector<flight::LostTag>>& lost, const Job& job,
                         const Ready& ready) {
    flight::LostCount count{0, static_cast<std::int64_t>(lost.size()) * ready.plan.tags};
    for (std::size_t i = 0; i < lost.size(); ++i) {
      if (count.lost == 0 && !lost[i].empty()) {
        count.replicate = job.first + static_cast<int>(i);
        count.first = lost[i].front();
      }
      count.lost += static_cast<std::int64_t>(lost[i].size());
    }
    try {
      flight::check_lost(count, ready.plan.clock.step, ready.scenario.flight.lost_limit);
    } catch (const flight::TooManyLost& error) {
      throw InputError(error.what());
    }
  }

  // Whether all were flown.
  bool fly_replicates(const Job& job, const Ready& ready, int threads, DesignResult& result) const {
    const auto& scenario = ready.scenario;
    const auto& plan = ready.plan;
    const auto outline = results::outline(plan);
    const int lanes = flight::lanes_of(settings_.instructions), count = job.end - job.first;
    for (std::size_t o = 0; o < study_.outputs.size(); ++o)
      if (study_.outputs[o].document == Document::flight) result.values[o].resize(count);
    std::vector<std::vector<flight::LostTag>> lost(count);
    const auto outcome = parallel::run_blocks(
        (count + lanes - 1) / lanes, threads,
        [&](std::size_t block) {
          const int begin = static_cast<int>(block) * lanes, size = std::min(lanes, count - begin);
          flight::Timing timing{};
          auto flown = flight::fly_vessels(plan, settings_.instructions, job.first + begin, size, timing,
                                           [](std::int64_t) {});
          for (int k = 0; k < size; ++k) {
            flight::CampaignResult one{{job.first + begin + k}, {}, false, {0.0, 0.0}, 0};
            lost[begin + k] = flown[k].lost;
            one.replicates.push_back(std::move(flown[k]));
            const auto document = results::summary_document(results::summarise(outline, one), scenario,
                                                            settings_.program_version);
            for (std::size_t o = 0; o < study_.outputs.size(); ++o) {
              if (study_.outputs[o].document == Document::flight)
                result.values[o][begin + k] = value(document, study_.outputs[o]);
            }
          }
        },
        stop_);
    result.replicates = count;
    if (outcome != parallel::Outcome::finished) return false;
    check_lost(lost, job, ready);
    return true;
  }

  // Every design until the intervals of the goals are narrow enough.
  void settle_all() {
    if (!study_.flights.target_interval) return;
    while (true) {
      std::vector<Job> jobs;
      for (int i = table_.range.first; i < table_.range.end; ++i) {
        const auto& result = table_.results[i];
        if (!result.refused.empty() || result.replicates >= study_.flights.most) continue;
        double widest = 0.0;
        for (const auto& goal : study_.goals) {
          const auto estimate = estimate_of(study_, result, goal.output);
          // What occurred in no replicate has no interval to wait for.
          if (!std::isnan(estimate.mean)) widest = std::max(widest, estimate.half_width);
        }
        if (widest > *study_.flights.target_interval)
          jobs.push_back({i, 0, study_.flights.next_count(result.replicates)});
      }
      if (jobs.empty()) return;
      fly(jobs);
    }
  }

  // The designs of comparisons in the ranking that are not decided.
  void settle_ranks() {
    while (true) {
      const auto ranking = rank(study_, table_);
      std::set<int> undecided;
      for (const auto& comparison : ranking.comparisons) {
        const bool alike =
            study_.flights.target_interval && comparison.paired.half_width <= *study_.flights.target_interval;
        if (comparison.distinct || alike || std::isnan(comparison.paired.mean)) continue;
        // Designs of less flights first: a difference is over those that both flew.
        const int a = comparison.first, b = comparison.second;
        const int flown_a = table_.results[a].replicates, flown_b = table_.results[b].replicates;
        if (flown_a <= flown_b) undecided.insert(a);
        if (flown_b <= flown_a) undecided.insert(b);
      }
      std::vector<Job> jobs;
      for (const int i : undecided) {
        const int flown = table_.results[i].replicates;
        if (flown < study_.flights.most) jobs.push_back({i, 0, study_.flights.next_count(flown)});
      }
      if (jobs.empty()) return;
      fly(jobs);
    }
  }

  // Of a design flown: nothing where it is refused or an output is no number.
  std::optional<std::vector<double>> means(int design) const {
    const auto& result = table_.results[design];
    if (!result.refused.empty()) return std::nullopt;
    std::vector<double> all;
    for (std::size_t o = 0; o < study_.outputs.size(); ++o)
      all.push_back(estimate_of(study_, result, o).mean);
    return all;
  }

  // From the best of the spread designs on by linear models in a shrinking region [powell1994], over the unit
  // cube and on the same replicates for all, so that the output is a function without noise.
  void search() {
    const int spread = static_cast<int>(table_.designs.size());
    const std::size_t axes = study_.variables.size();
    const int left = static_cast<int>(study_.samples) - spread;
    if (left < 1) return;
    plan_for(static_cast<int>(study_.samples) * study_.flights.replicates);

    const Goal goal = study_.goals.front();
    const double sign = goal.want == Want::most ? -1.0 : 1.0;
    // Outputs in units of their spread, so that goal and limits weigh alike.
    std::vector<double> scale(study_.outputs.size(), 1.0);
    for (std::size_t o = 0; o < scale.size(); ++o) {
      double low = INFINITY, high = -INFINITY;
      for (int i = 0; i < spread; ++i) {
        const auto all = means(i);
        if (!all || !std::isfinite((*all)[o])) continue;
        low = std::min(low, (*all)[o]);
        high = std::max(high, (*all)[o]);
      }
      if (high > low) scale[o] = high - low;
    }
    std::map<std::vector<double>, int> tried;
    const auto design_at = [&](const std::vector<double>& place) {
      Coordinates design;
      for (std::size_t k = 0; k < axes; ++k) design.push_back(study_.coordinate(k, place[k]));
      const auto [found, fresh] = tried.emplace(design, static_cast<int>(table_.designs.size()));
      if (fresh) {
        append(design);
        ++table_.range.end;
        fly({{found->second, 0, study_.flights.replicates}});
      }
      return found->second;
    };
    struct Side {
      std::size_t output;
      double sign, bound;
    };
    std::vector<Side> sides;
    for (const auto& limit : study_.limits) {
      if (limit.least) sides.push_back({limit.output, -1.0, *limit.least});
      if (limit.most) sides.push_back({limit.output, 1.0, *limit.most});
    }
    // Where none keeps the limits, from that which breaks them least.
    const auto excess = [&](const Side& side, double mean) {
      return side.sign * (mean - side.bound) / scale[side.output];
    };
    int begin = -1;
    double begin_broken = INFINITY, begin_value = INFINITY;
    for (int i = 0; i < spread; ++i) {
      const auto all = means(i);
      if (!all || !std::isfinite((*all)[goal.output])) continue;
      double broken = 0.0;
      for (const Side& side : sides) {
        const double over = excess(side, (*all)[side.output]);
        broken = std::isfinite(over) ? std::max(broken, over) : INFINITY;
        if (std::isinf(broken)) break;
      }
      const double value = sign * (*all)[goal.output];
      if (begin >= 0 && std::pair(broken, value) >= std::pair(begin_broken, begin_value)) continue;
      begin = i;
      begin_broken = broken;
      begin_value = value;
    }
    if (begin < 0) return;

    constexpr double forbidding = 10.0;  // spreads away from anything good
    const auto objective = [&](const std::vector<double>& place) {
      const auto all = means(design_at(place));
      if (!all || !std::isfinite((*all)[goal.output])) return forbidding;
      return (sign * (*all)[goal.output] - begin_value) / scale[goal.output];
    };
    using Function = std::function<double(const std::vector<double>&)>;
    std::vector<Function> functions{objective};
    for (const Side& side : sides) {
      functions.push_back([&, side](const std::vector<double>& place) {
        const auto all = means(design_at(place));
        if (!all || !std::isfinite((*all)[side.output])) return forbidding;
        return excess(side, (*all)[side.output]);
      });
    }
    // Exceptions do not cross the library: they are kept and thrown here.
    std::exception_ptr failure;
    struct Call {
      Function* function;
      std::exception_ptr* failure;
      nlopt::opt* optimiser;
    };
    const auto call = [](const std::vector<double>& place, std::vector<double>&, void* data) -> double {
      const Call& own = *static_cast<Call*>(data);
      try {
        return (*own.function)(place);
      } catch (...) {
        *own.failure = std::current_exception();
        own.optimiser->force_stop();
        return 0.0;
      }
    };
    nlopt::opt optimiser(nlopt::LN_COBYLA, static_cast<unsigned>(axes));
    std::vector<Call> calls;
    calls.reserve(functions.size());
    for (auto& function : functions) calls.push_back({&function, &failure, &optimiser});
    optimiser.set_lower_bounds(0.0);
    optimiser.set_upper_bounds(1.0);
    optimiser.set_min_objective(call, &calls[0]);
    for (std::size_t i = 1; i < calls.size(); ++i) optimiser.add_inequality_constraint(call, &calls[i], 0.0);
    optimiser.set_initial_step(0.15);
    optimiser.set_xtol_abs(1e-3);
    optimiser.set_maxeval(left);
    std::vector<double> place;
    for (std::size_t k = 0; k < axes; ++k) {
      const double x = table_.designs[begin][k];
      const auto& variable = study_.variables[k];
      place.push_back(variable.scale == Scale::logarithmic
                          ? std::log(x / variable.from) / std::log(variable.to / variable.from)
                          : (x - variable.from) / (variable.to - variable.from));
    }
    for (int i = 0; i < spread; ++i) tried.emplace(table_.designs[i], i);
    double value = 0.0;
    try {
      optimiser.optimize(place, value);
    } catch (const nlopt::roundoff_limited&) {
      // As near as it gets.
    } catch (const nlopt::forced_stop&) {
    }
    if (failure) std::rethrow_exception(failure);
  }

  const Study& study_;
  const RunSettings& settings_;
  const std::stop_token& stop_;
  const RunHooks& hooks_;
  bool needs_sheet_ = false, needs_flight_ = false;
  Table table_;
  std::map<int, DesignResult> stored_;
  flight::Progress progress_{0, 0, 0, 0};
  std::mutex ready_mutex_;
  std::map<int, std::shared_ptr<const Ready>> ready_;
  maps::SharedCoilMaps coil_maps_;
  std::mutex air_mutex_;
  std::map<std::string, std::shared_future<std::shared_ptr<const maps::AirState>>> airs_;
};

}  // namespace

Table run(const Study& study, const RunSettings& settings, const std::stop_token& stop, const RunHooks& hooks,
          std::vector<Piece> kept) {
  return Runner(study, settings, stop, hooks, std::move(kept)).run();
}

}  // namespace driftglow::study
