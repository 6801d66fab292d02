#include "sim/scenario/air_reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "models/constants.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/reading.hpp"

namespace driftglow::scenario {
namespace {

using constant::pi;

class AirReader {
 public:
  AirReader(const AirRoom& room, const std::filesystem::path& folder, Faults& faults)
      : room_(room), folder_(folder), faults_(faults) {}

  Air run(const Block& block) {
    Air air{};
    const std::string source = block.text("source");
    if (source == "gridded") {
      air.source = gridded(block);
    } else if (source == "solved") {
      air.source = solved(block);
    } else {
      air.source = column(block);
    }
    if (const Block* precession = block.block("precession"))
      air.precession = Precession{precession->number("speed"), precession->number("strouhal_number")};
    const std::string averaging = block.text("gust_averaging");
    const bool on = averaging.empty() ? !std::holds_alternative<ColumnAir>(air.source) : averaging == "on";
    air.gust_averaging = on ? GustAveraging::on : GustAveraging::off;
    return air;
  }

 private:
  void fault(const Block& block, std::string_view key, const std::string& sentence) {
    faults_.add(block.place(key), block.path(key), sentence);
  }
  void missing(const Block& block, const std::string& key, const std::string& expected) {
    faults_.add(block.place(), block.path(), fmt::format("key `{}` is missing; expected {}", key, expected));
  }
  // Null where it is left out, even if all its keys have defaults.
  static const Block* given_block(const Block& block, std::string_view key) {
    return block.given(key) ? block.block(key) : nullptr;
  }
  void only_keys(const Block& block, const std::vector<const char*>& foreign, const char* source) {
    for (const char* key : foreign) {
      if (block.given(key))
        fault(
            block, key,
            fmt::format("key has no meaning with this source of the air; expected it only with `source: {}`",
                        source));
    }
  }

  ColumnAir column(const Block& block) {
    ColumnAir air{};
    air.flow = block.number("flow_rate");
    if (const Block* fan_block = block.block("fan")) {
      only_keys(*fan_block, {"diameter", "hub_diameter", "swirl_angle", "speed", "efficiency"}, "solved");
      air.flow = fan(*fan_block);
    }
    if (block.given("losses") && !block.given("fan"))
      fault(block, "losses",
            "losses act on a fan's curve only; expected `fan` beside them in place of `flow_rate`");
    const double section = pi * room_.radius * room_.radius;
    for (const Block* loss : block.blocks("losses"))
      air.losses.push_back(
          {loss->text("name"), loss->number("loss_coefficient"), loss->maybe("area").value_or(section)});
    air.profile_exponent = block.number("profile_exponent");
    air.circulation = block.number("circulation");
    if (const Block* vents = block.block("side_vents")) {
      air.side_vents = SideVents{vents->number("bottom"), vents->number("fraction")};
      if (air.side_vents->bottom >= room_.height)
        fault(*vents, "bottom",
              fmt::format("value is not below the lid at {}; expected less", millimetres(room_.height)));
    }
    if (const Block* lid = block.block("lid_opening")) {
      air.lid_opening = LidOpening{lid->number("inner_radius"), lid->number("outer_radius")};
      if (air.lid_opening->outer_radius > room_.radius)
        fault(*lid, "outer_radius",
              fmt::format("value is beyond the vessel's radius of {}; expected at most that",
                          millimetres(room_.radius)));
      if (air.lid_opening->inner_radius >= air.lid_opening->outer_radius)
        fault(*lid, "inner_radius", "value is not below the outer radius; expected less");
    }
    swirl(block, air);
    air.fin_swirl_factor = 1;
    air.fin_loss_coefficient = 0;
    if (const Block* fins_block = given_block(block, "fins")) {
      const Block& fins = *fins_block;
      only_keys(fins, {"where", "count", "depth", "from", "to"}, "solved");
      if (!fins.given("swirl_factor"))
        faults_.add(fins.place(), fins.path(),
                    "key `swirl_factor` is missing; expected a pure number such as `0.3`");
      air.fin_swirl_factor = fins.number("swirl_factor");
      air.fin_loss_coefficient = fins.number("loss_coefficient");
    }
    turbulence(block, air);
    return air;
  }

  void swirl(const Block& block, ColumnAir& air) {
    static const Block none = block_from_text("{speed: 0 m/s}", "air.swirl", "no swirl");
    const Block* given = block.block("swirl");
    const Block& swirl = given ? *given : none;
    air.swirl_speed = swirl.number("speed");
    air.swirl_core_radius = swirl.maybe("core_radius").value_or(room_.radius / 3);
    air.swirl_wall_exponent = swirl.number("wall_exponent");
    air.swirl_decay = swirl.maybe("decay");
    if (air.swirl_core_radius >= room_.radius)
      fault(swirl, "core_radius",
            fmt::format("value is not inside the vessel's radius of {}; expected less",
                        millimetres(room_.radius)));
  }

  std::variant<double, Fan> fan(const Block& block) {
    const std::string name = block.text("name");
    if (!block.given("curve")) {
      if (const Fan* found = find_named(library_fans(), name)) return *found;
      std::vector<std::string> names;
      for (const Fan& known : library_fans()) names.push_back(known.name);
      if (!name.empty())
        fault(block, "name",
              fmt::format("value {} is no fan of the library; expected one of {}, or your fan's `curve`",
                          quote(name), in_ticks(names)));
      return std::nan("");
    }
    const Pairs curve = block.pairs("curve");
    for (std::size_t i = 1; i < curve.size(); ++i) {
      if (curve[i].first > curve[i - 1].first && curve[i].second <= curve[i - 1].second) continue;
      fault(block, "curve",
            fmt::format("point {} does not continue the curve; expected flow rising and pressure not rising",
                        i + 1));
      break;
    }
    return Fan{name.empty() ? "own curve" : name, curve};
  }

  template <class Design>
  void turbulence(const Block& block, Design& air) {
    const Block* given = block.block("turbulence");
    if (!given) return;
    air.turbulence_intensity = given->number("intensity");
    air.turbulence_floor = given->number("floor");
    air.length_scale = given->maybe("length_scale");
    if (air.length_scale && *air.length_scale > room_.radius)
      fault(
          *given, "length_scale",
          fmt::format("value is beyond the vessel's radius of {}; expected less", millimetres(room_.radius)));
  }

  GriddedAir gridded(const Block& block) {
    GriddedAir air{};
    const std::string file = block.text("file");
    if (!file.empty()) air.file = (folder_ / file).string();
    air.where = faults_.beginning(block.place("file"), block.path("file"));
    air.open_above = block.maybe("open_above");
    if (air.open_above && *air.open_above >= room_.height)
      fault(block, "open_above",
            fmt::format("value is not below the lid at {}; expected less", millimetres(room_.height)));
    turbulence(block, air);
    return air;
  }

  SolvedAir solved(const Block& block) {
    SolvedAir air{};
    if (const Block* fan_block = block.block("fan")) {
      solved_fan(*fan_block, air);
    } else if (!block.given("fan")) {
      missing(block, "fan", "a block of keys such as `curve: [[0 m3/s, 60 Pa], [0.1 m3/s, 0 Pa]]`");
    }
    air.inlet_height = block.number("inlet_height");
    if (const Block* guard = block.block("guard")) air.guard = screen(*guard);
    if (const Block* mesh = block.block("mesh")) air.mesh = screen(*mesh);
    if (const Block* vents_block = block.block("vents")) vents(block, *vents_block, air);
    if (const Block* fins_block = given_block(block, "fins")) fins(*fins_block, air);
    const std::string detail = block.text("detail");
    air.detail = detail == "quick"  ? swirl_flow::Detail::quick
                 : detail == "fine" ? swirl_flow::Detail::fine
                                    : swirl_flow::Detail::normal;
    return air;
  }

  void solved_fan(const Block& block, SolvedAir& air) {
    const auto flow = fan(block);
    if (const Fan* found = std::get_if<Fan>(&flow)) air.fan = *found;
    air.fan_diameter = block.maybe("diameter").value_or(2.0 * room_.radius);
    constexpr double usual_hub = 0.4;  // of small axial fans, common practice
    air.hub_diameter = block.maybe("hub_diameter").value_or(usual_hub * air.fan_diameter);
    if (air.fan_diameter > 2.0 * room_.radius)
      fault(block, "diameter",
            fmt::format("value is beyond the vessel's inner diameter of {}; expected at most that",
                        millimetres(2.0 * room_.radius)));
    if (air.hub_diameter >= 0.9 * air.fan_diameter)
      fault(block, "hub_diameter",
            fmt::format(
                "value leaves no opening in the fan's diameter of {}; expected less than nine tenths of it",
                millimetres(air.fan_diameter)));
    if (const auto angle = block.maybe("swirl_angle")) air.swirl = FanByAngle{*angle};
    if (const auto speed = block.maybe("speed")) {
      air.swirl = FanByWork{*speed, block.number("efficiency")};
      if (*speed == 0.0)
        fault(block, "speed", "value is 0; expected the rotor's speed, or no key for no swirl");
      if (air.hub_diameter == 0.0)
        fault(block, "speed", "swirl from the rotor's speed needs a hub; expected `hub_diameter` above 0");
    }
    if (block.given("efficiency") && !block.given("speed"))
      fault(block, "efficiency", "key has no meaning without the rotor's speed; expected `speed` beside it");
  }

  Screen screen(const Block& block) {
    if (const auto loss = block.maybe("loss")) return *loss;
    if (block.given("wire") && !block.given("opening"))
      missing(block, "opening", "a length such as `3 mm` beside `wire`");
    if (block.given("opening") && !block.given("wire") && !block.given("loss"))
      return air::WireMesh{std::nan(""), block.number("opening")};  // told by the key table
    return air::WireMesh{block.number("wire"), block.number("opening")};
  }

  void vents(const Block& air_block, const Block& block, SolvedAir& air) {
    const double above = room_.height - room_.wall_height;
    air.side_gap = above > 0.0 ? above : 0.0;
    if (air_block.given("lid_height") && air_block.number("lid_height") < room_.wall_height)
      fault(air_block, "lid_height",
            fmt::format("value is below the wall's upper edge at {}; expected at least that",
                        millimetres(room_.wall_height)));
    if (const Block* gap_block = given_block(block, "side_gap")) {
      const Block& gap = *gap_block;
      air.edge = gap.text("edge") == "rounded" ? Edge::rounded : Edge::sharp;
      if (const auto height = gap.maybe("height")) {
        if (above > 0.0)
          fault(gap, "height",
                fmt::format("a lid {} above the wall's edge already leaves a gap; expected `lid_height` or "
                            "this, not both",
                            millimetres(above)));
        air.side_gap = *height;
        if (*height > 0.5 * room_.height)
          fault(gap, "height",
                fmt::format("value is beyond half the vessel's height of {}; expected at most that",
                            millimetres(room_.height)));
      } else if (above <= 0.0) {
        missing(gap, "height", "a length such as `8 mm`, or `lid_height` above the vessel's wall");
      }
    }
    if (const Block* holes_block = block.block("holes")) holes(*holes_block, air);
    if (air.side_gap == 0.0 && !air.lid_vent && !block.given("side_gap") && !block.given("holes"))
      faults_.add(block.place(), block.path(),
                  "the vessel has neither a side gap nor holes in the lid; expected one, the air must leave");
  }

  void holes(const Block& block, SolvedAir& air) {
    constexpr double sharp = 0.61;
    swirl_flow::LidVent vent{block.number("from_radius"), block.number("to_radius"), 1.0, sharp};
    if (vent.outer_radius > room_.lid_radius)
      fault(block, "to_radius",
            fmt::format("value is beyond the vessel's radius of {}; expected at most that",
                        millimetres(room_.lid_radius)));
    if (vent.inner_radius >= vent.outer_radius)
      fault(block, "from_radius", "value is not below `to_radius`; expected less");
    if (block.given("diameter") != block.given("count")) {
      missing(block, block.given("diameter") ? "count" : "diameter",
              block.given("diameter") ? "a whole number such as `40`" : "a length such as `8 mm`");
    } else if (block.given("diameter")) {
      air.hole_diameter = block.number("diameter");
      const double holes_area = block.number("count") * air.hole_diameter * air.hole_diameter;
      vent.open_share =
          holes_area /
          (4.0 * (vent.outer_radius * vent.outer_radius - vent.inner_radius * vent.inner_radius));
      if (vent.open_share > 1.0)
        fault(block, "count",
              fmt::format("the holes would open {:.0f} % of the ring; expected at most 100 %, by fewer or "
                          "smaller holes",
                          100.0 * vent.open_share));
    } else if (const auto share = block.maybe("open_share")) {
      vent.open_share = *share;
    }
    air.lid_vent = vent;
  }

  void fins(const Block& block, SolvedAir& air) {
    only_keys(block, {"swirl_factor", "loss_coefficient"}, "column");
    const bool wall = block.text("where") == "wall";
    swirl_flow::FinGeometry fins{};
    fins.count = static_cast<int>(block.count("count"));
    if (!block.given("count")) missing(block, "count", "a whole number such as `8`");
    if (wall && !block.given("depth"))
      missing(block, "depth", "a length such as `20 mm` for fins on the wall");
    fins.depth = block.maybe("depth").value_or(room_.radius);
    fins.from = block.maybe("from").value_or(wall ? 0.0 : -air.inlet_height);
    fins.to = block.maybe("to").value_or(wall ? room_.height - air.side_gap : 0.0);
    const double deepest = wall ? std::min(room_.radius, room_.lid_radius) : room_.radius;
    if (fins.depth > deepest)
      fault(block, "depth",
            fmt::format("value is beyond the vessel's radius of {}; expected at most that",
                        millimetres(deepest)));
    const double low = wall ? 0.0 : -air.inlet_height, high = wall ? room_.height - air.side_gap : 0.0;
    if (fins.from < low || fins.to > high || fins.from >= fins.to)
      fault(block, fins.from < low || !block.given("to") ? "from" : "to",
            fmt::format("the fins reach from {} to {}; expected `from` below `to`, both between {} and {}",
                        millimetres(fins.from), millimetres(fins.to), millimetres(low), millimetres(high)));
    air.fins = fins;
  }

  const AirRoom& room_;
  const std::filesystem::path& folder_;
  Faults& faults_;
};

}  // namespace

Air read_air(const Block& block, const AirRoom& room, const std::filesystem::path& folder, Faults& faults) {
  return AirReader(room, folder, faults).run(block);
}

}  // namespace driftglow::scenario
