#include "sim/results/flight_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>

#include "sim/store/plausible.hpp"

namespace driftglow::results {
namespace {

using flight::ReplicateResult;

class FlightFileReader {
 public:
  FlightFileReader(const store::Reader& file, const Outline& outline) : file_(file), outline_(outline) {}

  flight::Replicates read() {
    const auto numbers = file_.read<std::int32_t>("/replicates", 1).values;
    replicates_.numbers.assign(numbers.begin(), numbers.end());
    replicates_.results.resize(numbers.size());
    for (auto& replicate : replicates_.results) shape(replicate);
    for (std::size_t d = 0; d < outline_.designs.size(); ++d) read_design(d);
    read_vessel();
    if (file_.has("/lost")) read_lost();
    if (file_.has("/energy")) read_energy();
    for (std::size_t i = 0; i < numbers.size(); ++i) {
      const std::string group = fmt::format("/trace/{}", numbers[i]);
      if (file_.has(group)) read_trace(group + "/", replicates_.results[i].trace);
    }
    return std::move(replicates_);
  }

 private:
  void shape(ReplicateResult& replicate) const {
    constexpr double none = std::numeric_limits<double>::quiet_NaN();
    constexpr std::size_t places = flight::place_r_bins * flight::place_z_bins;
    for (const auto& outline : outline_.designs) {
      flight::DesignResult design{};
      design.visits.assign(places, 0);
      for (std::size_t f = 0; f < outline.fits.size(); ++f) {
        flight::FitResult fit{};
        for (const auto& quantity : fit_quantities()) fit.*quantity.value = none;
        fit.tag_duty.resize(outline.count);
        fit.lit_by_place.assign(places, 0);
        design.fits.push_back(std::move(fit));
      }
      replicate.designs.push_back(std::move(design));
    }
    replicate.vessel.lit_at_once.resize(outline_.tags + 1);
    replicate.vessel.colour_intensity.resize(outline_.colours.size());
  }

  // So that no sum of them overflows. NaN stands for what a flight does not have.
  void expect_likely(const std::string& path, double value) const {
    file_.expect(store::plausible_or_none(value), path + " has a value beyond 1e12");
  }
  void expect_likely(const std::string& path, std::int64_t count) const {
    constexpr std::int64_t most = 1'000'000'000'000'000;  // steps times tags
    file_.expect(count >= 0 && count <= most, path + " has a count below 0 or beyond 1e15");
  }

  // [replicate][column], `columns` a replicate.
  template <class T>
  void read_rows(const std::string& path, std::size_t columns, std::size_t rank,
                 const std::function<void(ReplicateResult&, std::size_t column, T)>& put) {
    const auto array = file_.read<T>(path, rank);
    file_.expect(array.values.size() == columns * replicates_.results.size(),
                 path + " has not the size that the scenario asks for");
    for (std::size_t i = 0; i < replicates_.results.size(); ++i) {
      for (std::size_t k = 0; k < columns; ++k) {
        expect_likely(path, array.values[i * columns + k]);
        put(replicates_.results[i], k, array.values[i * columns + k]);
      }
    }
  }

  void read_each(const std::string& path, const std::function<double&(ReplicateResult&)>& place) {
    read_rows<double>(path, 1, 1, [&](ReplicateResult& r, std::size_t, double value) { place(r) = value; });
  }

  template <class Counts>
  void read_pooled(const std::string& path, std::size_t rank, Counts& counts) {
    const auto values = file_.read<std::int64_t>(path, rank).values;
    file_.expect(values.size() == counts.size(), path + " has not the size that the scenario asks for");
    for (const std::int64_t count : values) expect_likely(path, count);
    std::copy(values.begin(), values.end(), counts.begin());
  }

  void read_design(std::size_t d) {
    const auto& outline = outline_.designs[d];
    for (int s = 0; s < motion::surfaces; ++s) {
      read_each(fmt::format("/pinned/{}/{}", outline.name, surface_name(s)),
                [&](auto& r) -> double& { return r.designs[d].pinned[s]; });
    }
    for (const auto& quantity : design_quantities()) {
      read_each(fmt::format("/{}/{}", quantity.name, outline.name),
                [&](auto& r) -> double& { return r.designs[d].*quantity.value; });
    }
    if (!replicates_.results.empty())
      read_pooled(fmt::format("/place/{}/visits", outline.name), 2,
                  replicates_.results.front().designs[d].visits);
    for (std::size_t f = 0; f < outline.fits.size(); ++f) read_fit(d, f);
  }

  void read_fit(std::size_t d, std::size_t f) {
    const auto& outline = outline_.designs[d];
    const std::string of_fit = fmt::format("{}/{}", outline.name, outline.fits[f]);
    for (const auto& quantity : fit_quantities()) {
      if (quantity.needs == Receiver::circuit && outline.receiver == Receiver::threshold) continue;
      read_each(fmt::format("/{}/{}", quantity.name, of_fit),
                [&](auto& r) -> double& { return r.designs[d].fits[f].*quantity.value; });
    }
    read_rows<double>("/duty_by_tag/" + of_fit, outline.count, 2,
                      [&](ReplicateResult& r, std::size_t tag, double value) {
                        r.designs[d].fits[f].tag_duty[tag] = value;
                      });
    read_light(d, f, of_fit);
    if (file_.has("/duty_shift_by_coupling/" + of_fit)) {
      read_each("/duty_shift_by_coupling/" + of_fit,
                [&](auto& r) -> double& { return r.designs[d].fits[f].coupling_shift; });
    }
    if (replicates_.results.empty()) return;
    auto& first = replicates_.results.front().designs[d].fits[f];
    read_pooled(fmt::format("/spells/{}/on", of_fit), 1, first.on_spells);
    read_pooled(fmt::format("/spells/{}/off", of_fit), 1, first.off_spells);
    read_pooled(fmt::format("/place/{}/lit/{}", outline.name, outline.fits[f]), 2, first.lit_by_place);
  }

  // The file tells the LEDs apart where they are two.
  void read_light(std::size_t d, std::size_t f, const std::string& of_fit) {
    if (outline_.designs[d].receiver == Receiver::threshold) return;
    for (auto& r : replicates_.results) {
      auto& fit = r.designs[d].fits[f];
      fit.emitter_intensity = {fit.mean_intensity};
    }
    const std::string path = "/light_by_emitter/" + of_fit;
    if (!file_.has(path)) return;
    for (auto& r : replicates_.results) r.designs[d].fits[f].emitter_intensity.resize(2);
    read_rows<double>(path, 2, 2, [&](ReplicateResult& r, std::size_t led, double value) {
      r.designs[d].fits[f].emitter_intensity[led] = value;
    });
  }

  void read_vessel() {
    read_rows<std::int64_t>(
        "/vessel/lit_at_once", outline_.tags + 1, 2,
        [](ReplicateResult& r, std::size_t lit, std::int64_t steps) { r.vessel.lit_at_once[lit] = steps; });
    read_each("/vessel/longest_dark", [](auto& r) -> double& { return r.vessel.longest_dark; });
    if (file_.has("/vessel/uncoupled_share"))
      read_each("/vessel/uncoupled_share", [](auto& r) -> double& { return r.vessel.uncoupled_share; });
    if (outline_.colours.empty()) return;
    read_rows<double>("/vessel/light_by_colour", outline_.colours.size(), 2,
                      [](ReplicateResult& r, std::size_t colour, double value) {
                        r.vessel.colour_intensity[colour] = value;
                      });
  }

  void read_lost() {
    const auto replicate = file_.read<std::int32_t>("/lost/replicate", 1).values;
    const auto tag = file_.read<std::int32_t>("/lost/tag", 1).values;
    const auto why = file_.read<std::int32_t>("/lost/why", 1).values;
    const auto steps = file_.read<std::int64_t>("/lost/steps", 1).values;
    bool right =
        tag.size() == replicate.size() && why.size() == replicate.size() && steps.size() == replicate.size();
    for (std::size_t i = 0; right && i < replicate.size(); ++i) {
      const auto found = std::find(replicates_.numbers.begin(), replicates_.numbers.end(), replicate[i]);
      right = found != replicates_.numbers.end() && tag[i] >= 0 && tag[i] < outline_.tags && why[i] >= 0 &&
              why[i] < flight::losses && steps[i] >= 0;
      if (!right) break;
      replicates_.results[found - replicates_.numbers.begin()].lost.push_back(
          {tag[i], steps[i], static_cast<flight::Loss>(why[i])});
    }
    file_.expect(right, "/lost does not fit the flight");
  }

  void read_energy() {
    const auto source = file_.read<std::int32_t>("/energy/source", 1).values;
    file_.expect(source.size() == 1 && source[0] >= 0 && source[0] < flight::energy_sources,
                 "/energy/source is not one of the sources of energy");
    for (auto& r : replicates_.results) r.ledger = flight::Ledger{};
    for (auto& r : replicates_.results) r.ledger->source = static_cast<flight::EnergySource>(source[0]);
    for (const auto& term : flight::ledger_terms()) {
      read_each(fmt::format("/energy/{}", term.name),
                [&](auto& r) -> double& { return *r.ledger.*term.value; });
    }
  }

  void read_trace(const std::string& group, flight::Trace& trace) {
    trace.time = file_.read<double>(group + "time", 1).values;
    for (const double time : trace.time) expect_likely(group + "time", time);
    const auto floats = [&](const char* name, std::size_t rank) {
      const auto values = file_.read<double>(group + name, rank).values;
      std::vector<float> result;
      for (const double value : values) result.push_back(static_cast<float>(value));
      return result;
    };
    trace.place = floats("place", 3);
    trace.velocity = floats("velocity", 3);
    trace.axis = floats("axis", 3);
    trace.linkage = floats("linkage", 2);
    trace.current = floats("current", 2);
    trace.lit = file_.read<std::uint8_t>(group + "lit", 2).values;
  }

  const store::Reader& file_;
  const Outline& outline_;
  flight::Replicates replicates_;
};

}  // namespace

flight::Replicates read_replicates(const store::Reader& file, const Outline& outline) {
  return FlightFileReader(file, outline).read();
}

}  // namespace driftglow::results
