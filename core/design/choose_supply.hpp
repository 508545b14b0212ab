// What a meter lives on, in this order, because each needs one thing less than the next:
//   the voltages that it measures, where it is made for that
//   a control supply of the plan that has room: volts and kind within the meter's range, VA with a quarter to
//   spare (common practice), inrush of all its meters; the one with the least cable its own panel's voltage
//   behind a fuse, one for all meters of that panel a supply of the catalogue in its panel
// A meter whose supply is not isolated from its bus connects the commons of all that share an ac supply: such
// a meter gets a dc supply, or one of its own, since two ac poles landed crossed would close a loop through
// the communications common. What the wires lose is kept within 5 % of the volts: 2 l r I.
#pragma once
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "core/design/catalogue.hpp"
#include "core/design/distances.hpp"
#include "core/design/proposal.hpp"
#include "core/design/settings.hpp"
#include "core/plan/site.hpp"

namespace phasewright::design {

struct MeterSupplyNeed {
    double va = 0.0;
    std::optional<double> inrush_a;
};
[[nodiscard]] MeterSupplyNeed needed_by(plan::MeterHardware const& meter);

// The supplies of a site while meters are hung on them; `site.supplies` grows.
class Supplies {
public:
    Supplies(plan::Site& site, Catalogue const& catalogue, Settings const& settings, Distances& distances)
        : site_(site), catalogue_(catalogue), settings_(settings), distances_(distances) {}
    void count(plan::MeteringPoint const& point,
               plan::MeterHardware const* meter);  // that hangs on one already
    [[nodiscard]] Proposal choose(plan::MeteringPoint& point, plan::Panel const& panel,
                                  plan::MeterHardware const& meter);

private:
    struct Loaded {
        double va = 0.0;
        double inrush_a = 0.0;
        bool has_unisolated = false;
        int meters = 0;
    };
    [[nodiscard]] std::string against(plan::ControlSupply const& supply, plan::MeterHardware const& meter,
                                      MeterSupplyNeed const& need) const;
    [[nodiscard]] std::optional<plan::ControlSupply> from_panel(plan::Panel const& panel,
                                                                plan::MeterHardware const& meter,
                                                                MeterSupplyNeed const& need) const;
    [[nodiscard]] std::optional<plan::ControlSupply> from_catalogue(plan::Panel const& panel,
                                                                    plan::MeterHardware const& meter,
                                                                    MeterSupplyNeed const& need,
                                                                    std::string& words) const;
    void hang(plan::MeteringPoint& point, plan::ControlSupply const& supply, plan::Panel const& panel,
              plan::MeterHardware const& meter, MeterSupplyNeed const& need, Proposal& proposal);
    [[nodiscard]] std::string free_id(std::string const& wanted) const;

    plan::Site& site_;
    Catalogue const& catalogue_;
    Settings const& settings_;
    Distances& distances_;
    std::map<std::string, Loaded, std::less<>> loaded_;
};

}  // namespace phasewright::design
