#include "sim/results/setting.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "models/error.hpp"
#include "sim/results/flight_head.hpp"
#include "sim/results/flight_reader.hpp"
#include "sim/store/plausible.hpp"

namespace driftglow::results {
namespace {

using Json = nlohmann::ordered_json;

constexpr const char* remedy = "fly the scenario again";

Json json_of(const DesignOutline& design) {
  return {{"name", design.name},
          {"count", design.count},
          {"plain_threshold", design.receiver == Receiver::threshold},
          {"fits", design.fits},
          {"colours", design.colours},
          {"carried", design.carried}};
}

DesignOutline design_from(const Json& json) {
  return {json.at("name"),
          json.at("count"),
          json.at("plain_threshold").get<bool>() ? Receiver::threshold : Receiver::circuit,
          json.at("fits"),
          json.at("colours"),
          json.at("carried")};
}

Json json_of(const Outline& outline) {
  const auto& clock = outline.clock;
  Json designs = Json::array();
  for (const auto& design : outline.designs) designs.push_back(json_of(design));
  Json json{
      {"seed", outline.seed},
      {"vessel_radius_m", outline.vessel_radius},
      {"vessel_height_m", outline.vessel_height},
      {"step_s", clock.step},
      {"steps", {clock.warmup, clock.duration, clock.place_every, clock.pinned_every, clock.trace_every}},
      {"designs", designs},
      {"colours", outline.colours},
      {"tags", outline.tags},
      {"coupled", outline.coupled}};
  if (outline.vessel_slope != 0.0) json["vessel_slope"] = outline.vessel_slope;
  return json;
}

Outline outline_from(const Json& json) {
  const auto steps = json.at("steps").get<std::array<std::int64_t, 5>>();
  Outline outline{json.at("seed"),
                  json.at("vessel_radius_m"),
                  json.at("vessel_height_m"),
                  {json.at("step_s"), steps[0], steps[1], steps[2], steps[3], steps[4]},
                  {},
                  json.at("colours"),
                  json.at("tags"),
                  json.at("coupled"),
                  json.value("vessel_slope", 0.0)};
  for (const auto& design : json.at("designs")) outline.designs.push_back(design_from(design));
  return outline;
}

Json json_of(const Setting& setting) {
  Json coils = Json::array(), metal = Json::array(), glow = Json::array();
  for (const auto& coil : setting.coils) {
    coils.push_back({{"name", coil.name},
                     {"centre_m", coil.centre},
                     {"axis", coil.axis},
                     {"turns_m", coil.turns},
                     {"wire_radius_m", coil.wire_radius}});
  }
  for (const auto& part : setting.metal) {
    metal.push_back({{"name", part.name},
                     {"radius_m", part.radius},
                     {"low_m", part.low},
                     {"high_m", part.high},
                     {"half_thickness_m", part.half_thickness},
                     {"rods", part.rods}});
  }
  for (const auto& design : setting.glow) {
    Json fits = Json::array();
    for (const auto& fit : design) {
      Json leds = Json::array();
      for (const auto& led : fit)
        leds.push_back({{"xyz_cd_per_A", led.xyz_per_current}, {"on_current_A", led.on_current}});
      fits.push_back(leds);
    }
    glow.push_back(fits);
  }
  Json json{{"title", setting.title},
            {"name", setting.name},
            {"outline", json_of(setting.outline)},
            {"sheet", setting.sheet},
            {"cautions", setting.cautions},
            {"glow", glow},
            {"tag_radius_m", setting.tag_radius},
            {"coil_radius_m", setting.coil_radius},
            {"flashes_count", setting.flashes_count},
            {"coils", coils},
            {"metal", metal}};
  if (const auto& parameters = setting.parameters)
    json["parameters"] = {{"tuned_by", parameters->readings},
                          {"values", parameters->values},
                          {"duty_half_width_95", parameters->half_width}};
  return json;
}

Setting setting_from(const Json& json) {
  Setting setting{};
  setting.title = json.at("title");
  setting.name = json.at("name");
  setting.outline = outline_from(json.at("outline"));
  setting.sheet = json.at("sheet");
  setting.cautions = json.at("cautions").get<std::vector<std::string>>();
  for (const auto& design : json.at("glow")) {
    auto& fits = setting.glow.emplace_back();
    for (const auto& fit : design) {
      auto& leds = fits.emplace_back();
      for (const auto& led : fit)
        leds.push_back({led.at("xyz_cd_per_A").get<std::array<double, 3>>(), led.at("on_current_A")});
    }
  }
  if (json.contains("parameters")) {
    const auto& own = json.at("parameters");
    setting.parameters =
        ParameterWidths{own.at("tuned_by"), own.at("values"),
                        own.at("duty_half_width_95").get<std::vector<std::vector<double>>>()};
    if (setting.parameters->half_width.size() != setting.outline.designs.size())
      throw InputError(std::string("/report/setting: parameters do not fit the designs; ") + remedy);
    for (std::size_t d = 0; d < setting.outline.designs.size(); ++d)
      if (setting.parameters->half_width[d].size() != setting.outline.designs[d].fits.size())
        throw InputError(std::string("/report/setting: parameters do not fit the designs; ") + remedy);
  }
  setting.tag_radius = json.at("tag_radius_m").get<std::vector<double>>();
  setting.coil_radius = json.at("coil_radius_m").get<std::vector<double>>();
  setting.flashes_count = json.at("flashes_count").get<std::vector<std::uint8_t>>();
  for (const auto& coil : json.at("coils")) {
    setting.coils.push_back({coil.at("name"), coil.at("centre_m").get<std::array<double, 3>>(),
                             coil.at("axis").get<std::array<double, 3>>(),
                             coil.at("turns_m").get<std::vector<std::array<double, 2>>>(),
                             coil.at("wire_radius_m")});
  }
  for (const auto& part : json.at("metal")) {
    setting.metal.push_back({part.at("name"), part.at("radius_m"), part.at("low_m"), part.at("high_m"),
                             part.at("half_thickness_m"), part.at("rods")});
  }
  return setting;
}

bool plausible(const Json& json) {
  if (json.is_number()) return store::plausible(json.get<double>());
  return !json.is_structured() ||
         std::all_of(json.begin(), json.end(), [](const Json& part) { return plausible(part); });
}

void write_axes(store::Writer& file, const std::string& group, const Grid& grid, const char* first) {
  for (int axis = 0; axis < 2; ++axis) {
    std::vector<double> nodes;
    for (int i = 0; i < grid.nodes[axis]; ++i) nodes.push_back(grid.at(axis, i));
    file.write(fmt::format("{}/{}", group, axis == 0 ? first : "z"), nodes, {nodes.size()},
               {"m", axis == 0 ? "distance from the vessel's axis" : "height above the floor mesh"});
  }
}

// What results and report index by. Throws InputError where it does not fit together.
void check_outline(const store::Reader& file, const Setting& setting) {
  constexpr int most_tags = 1'000'000;
  const auto& outline = setting.outline;
  const std::size_t designs = outline.designs.size();
  bool fits = designs > 0 && setting.glow.size() == designs && setting.tag_radius.size() == designs &&
              setting.coil_radius.size() == designs && setting.flashes_count.size() == designs;
  std::int64_t tags = 0;
  for (std::size_t d = 0; fits && d < designs; ++d) {
    const auto& design = outline.designs[d];
    const auto count = static_cast<int>(design.fits.size());
    fits = design.count > 0 && design.count <= most_tags && count > 0 &&
           static_cast<int>(setting.glow[d].size()) == count &&
           (design.colours.empty() || design.colours.size() == design.fits.size()) &&
           (design.carried.empty() || static_cast<int>(design.carried.size()) == design.count) &&
           std::all_of(design.carried.begin(), design.carried.end(),
                       [&](int fit) { return fit >= 0 && fit < count; }) &&
           std::all_of(setting.glow[d].begin(), setting.glow[d].end(),
                       [](const FitLook& leds) { return leds.size() <= 2; });
    tags += design.count;
  }
  const auto positive = [](double x) { return store::plausible(x) && x > 0.0; };
  const auto& clock = outline.clock;
  file.expect(fits && tags == outline.tags && tags <= most_tags && positive(outline.vessel_radius) &&
                  positive(outline.vessel_height) && store::plausible(outline.vessel_slope) &&
                  positive(clock.step) && clock.warmup >= 0 && clock.duration > 0,
              "/report/setting does not fit together");
}

Grid read_axes(const store::Reader& file, const std::string& group, const char* first) {
  Grid grid{};
  for (int axis = 0; axis < 2; ++axis) {
    const auto nodes = file.read<double>(fmt::format("{}/{}", group, axis == 0 ? first : "z"), 1).values;
    if (nodes.size() < 2 || !store::plausible(nodes.front()) || !store::plausible(nodes.back()) ||
        !(nodes.front() < nodes.back()))
      throw InputError(group + ": no grid; " + remedy);
    grid.low[axis] = nodes.front();
    grid.high[axis] = nodes.back();
    grid.nodes[axis] = static_cast<int>(nodes.size());
  }
  return grid;
}

std::vector<double> on_grid(const store::Reader& file, const std::string& path, const Grid& grid) {
  auto values = file.read<double>(path, 2).values;
  if (values.size() != grid.size()) throw InputError(path + ": does not fit its axes; " + remedy);
  for (const double value : values)
    file.expect(store::plausible_or_none(value), path + " has a value beyond 1e12");
  return values;
}

// Throws InputError where something is missing.
void check_trace(const store::Reader& file, const Setting& setting, const flight::Trace& trace) {
  const std::size_t samples = trace.time.size(), tags = setting.outline.tags;
  std::size_t slots = 0;
  for (std::size_t d = 0; d < setting.glow.size(); ++d)
    slots += setting.outline.designs[d].count * trace_slots(setting.glow[d]);
  file.expect(trace.place.size() == 3 * tags * samples && trace.velocity.size() == 3 * tags * samples &&
                  trace.axis.size() == 3 * tags * samples && trace.linkage.size() == tags * samples &&
                  trace.lit.size() == tags * samples && trace.current.size() == slots * samples,
              "/trace does not fit its samples and tags");
}

}  // namespace

std::size_t trace_slots(const std::vector<FitLook>& design) {
  // A plain threshold has a slot that stays empty.
  std::size_t slots = 0;
  for (const auto& fit : design) slots += std::max<std::size_t>(1, fit.size());
  return slots;
}

std::size_t trace_slot(const std::vector<FitLook>& design, std::size_t fit, std::size_t led) {
  if (led == 0) return fit;
  return design.size() + std::count_if(design.begin(), design.begin() + fit,
                                       [](const FitLook& other) { return other.size() > 1; });
}

void write_setting(store::Writer& file, const Setting& setting) {
  const std::string text = json_of(setting).dump(-1, ' ', false, Json::error_handler_t::replace);
  const std::vector<std::uint8_t> bytes(text.begin(), text.end());
  file.write("/report/setting", bytes, {bytes.size()},
             {"1", "what a report shows beside the replicates: JSON text in UTF-8"},
             store::Compression::deflate);
  const auto write_on = [&](const std::string& path, const std::vector<double>& values, const Grid& grid,
                            const store::Description& description) {
    file.write(path, values,
               {static_cast<std::uint64_t>(grid.nodes[0]), static_cast<std::uint64_t>(grid.nodes[1])},
               description, store::Compression::deflate);
  };
  write_axes(file, "/report/field", setting.section, "x");
  write_on("/report/field/flux_density", setting.flux_density, setting.section,
           {"T", "peak of |B| in the plane y = 0, [x][z]"});
  write_axes(file, "/report/air", setting.half_section, "r");
  write_on("/report/air/u_r", setting.u_r, setting.half_section, {"m/s", "mean velocity, outward, [r][z]"});
  write_on("/report/air/u_theta", setting.u_theta, setting.half_section,
           {"m/s", "mean velocity, around, [r][z]"});
  write_on("/report/air/u_z", setting.u_z, setting.half_section, {"m/s", "mean velocity, up, [r][z]"});
}

Setting read_setting(const store::Reader& file) {
  const auto bytes = file.read<std::uint8_t>("/report/setting", 1).values;
  Setting setting;
  try {
    const auto json = Json::parse(bytes.begin(), bytes.end());
    file.expect(plausible(json.at("glow")) && plausible(json.at("coils")) && plausible(json.at("metal")),
                "/report/setting has a number beyond 1e12");
    setting = setting_from(json);
  } catch (const nlohmann::json::exception&) {
    throw InputError(std::string("/report/setting: not as this program writes it; ") + remedy);
  }
  check_outline(file, setting);
  setting.section = read_axes(file, "/report/field", "x");
  setting.flux_density = on_grid(file, "/report/field/flux_density", setting.section);
  setting.half_section = read_axes(file, "/report/air", "r");
  setting.u_r = on_grid(file, "/report/air/u_r", setting.half_section);
  setting.u_theta = on_grid(file, "/report/air/u_theta", setting.half_section);
  setting.u_z = on_grid(file, "/report/air/u_z", setting.half_section);
  return setting;
}

StoredFlight read_flight(const std::filesystem::path& path) {
  const store::Reader file(path, remedy);
  file.expect(!file.has("/part"), "is a part of a flight: `driftglow join` makes the report of all parts");
  file.expect(file.has("/report/setting"), "holds no flight that a report can be made of");
  const auto head = read_head(file);
  StoredFlight stored{file.origin(), read_setting(file), {}};
  auto replicates = read_replicates(file, stored.setting.outline);
  for (const auto& replicate : replicates.results) check_trace(file, stored.setting, replicate.trace);
  stored.campaign.numbers = std::move(replicates.numbers);
  stored.campaign.replicates = std::move(replicates.results);
  stored.campaign.interrupted = head.interrupted;
  stored.campaign.arithmetic = head.arithmetic;
  return stored;
}

}  // namespace driftglow::results
