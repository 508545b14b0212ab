// apply_row of schedule_rows.hpp.
#include <algorithm>
#include <cmath>

#include "app/commands/plan_entries.hpp"
#include "app/commands/schedule_rows.hpp"

namespace phasewright::commands {

namespace {
using plan::MeteringPoint;

std::string lowered(std::string_view text) { return plain_header(text); }

// The entry with this id or this name.
template <class Entries>
auto* named(Entries& entries, std::string const& text) {
    auto const same = [&](auto const& entry) { return entry.id == text || lowered(entry.name) == lowered(text) || entry.id == id_from(text); };
    auto const found = std::ranges::find_if(entries, same);
    return found == entries.end() ? nullptr : &*found;
}

template <plan::HasWords Enum>
Told<Enum> word_in(std::string const& text) {
    for (auto const& word : plan::words_for<Enum>())
        if (lowered(word) == lowered(text)) return *plan::meant_by<Enum>(word);
    return std::unexpected("the word is not known: " + quantity::joined(plan::words_for<Enum>(), ", "));
}

class RowOnto {
public:
    RowOnto(MeteringPoint& point, plan::Site& base, workbook::Row const& row, ScheduleLayout const& layout, ImportRules const& rules)
        : point_(point), base_(base), row_(row), layout_(layout), rules_(rules) {}

    std::optional<RowTrouble> apply() {
        identity();
        load();
        transformers();
        wires();
        meter();
        bus();
        extras();
        return trouble_;
    }

private:
    // The text of a column's cell, where it says something.
    std::optional<std::string> cell(Column column) {
        auto const at = layout_.place_of(column);
        if (!at || trouble_) return std::nullopt;
        auto text = trimmed(workbook::text_at(row_, *at));
        return text.empty() ? std::nullopt : std::optional{std::move(text)};
    }
    [[nodiscard]] Unit const& unit_above(Column column) const { return layout_.columns[*layout_.place_of(column)].known->unit; }
    // A number cell of a file that knows numbers has a full stop, whatever the rest has.
    [[nodiscard]] DecimalSign sign_of(Column column) const {
        return row_[*layout_.place_of(column)].is_number ? DecimalSign::point : layout_.sign;
    }
    void refuse(Column column, std::string what) {
        auto const at = layout_.place_of(column);
        if (!trouble_) trouble_ = RowTrouble{0, at.value_or(0), std::move(what), at ? workbook::text_at(row_, *at) : ""};
    }
    template <class Value, class Into>
    void take(Column column, Told<Value> const& told, Into const& into) {
        if (!told) refuse(column, told.error());
        else into(*told);
    }
    std::optional<double> number(Column column) {
        auto const text = cell(column);
        if (!text) return std::nullopt;
        auto const value = quantity_in(*text, sign_of(column), head_of(column), unit_above(column));
        if (value) return *value;
        refuse(column, value.error());
        return std::nullopt;
    }
    std::optional<int> whole(Column column) {
        auto const value = number(column);
        if (!value) return std::nullopt;
        if (*value == std::floor(*value) && std::abs(*value) < 1e6) return static_cast<int>(*value);
        refuse(column, "this is no whole number");
        return std::nullopt;
    }
    void put(Column column, std::string& into) {
        if (auto text = cell(column)) into = *text;
    }
    void put(Column column, std::optional<double>& into) {
        if (auto const value = number(column)) into = value;
    }
    template <plan::HasWords Enum>
    void put_word(Column column, std::optional<Enum>& into) {
        if (auto const text = cell(column)) take(column, word_in<Enum>(*text), [&](Enum value) { into = value; });
    }
    std::optional<SizeInCell> size(Column column, bool count_is_known) {
        auto const text = cell(column);
        if (!text) return std::nullopt;
        auto const told = size_in(*text, sign_of(column), unit_above(column), count_is_known);
        if (told) return *told;
        refuse(column, told.error());
        return std::nullopt;
    }

    void identity() {
        put(Column::name, point_.name);
        put(Column::way, point_.way);
        put(Column::parent, point_.parent);
        if (auto const text = cell(Column::installed))
            take(Column::installed, yes_or_no_in(*text), [&](bool yes) { point_.installed = yes; });
        if (auto const text = cell(Column::panel)) panel(*text);
        else if (point_.panel.empty()) {
            if (rules_.panel.empty()) refuse(Column::panel, "the row names no panel, and none was given for such rows");
            point_.panel = rules_.panel;
        }
        auto const text = cell(Column::service);
        if (text) take(Column::service, service_in(*text), [&](plan::Service service) { point_.service = service; });
        else if (!has_service_) refuse(Column::service, "the row names no service");
    }
    void panel(std::string const& text) {
        auto const* known = named(base_.panels, text);
        if (known == nullptr && rules_.may_add && rules_.nominal && !id_from(text).empty()) {
            base_.panels.push_back({.id = id_from(text), .name = text, .nominal = *rules_.nominal});
            known = &base_.panels.back();
        }
        if (known == nullptr)
            refuse(Column::panel, rules_.may_add ? "the panel is new, and its rated voltages are not known (--nominal 230/400)"
                                                 : "the plan has no such panel");
        else point_.panel = known->id;
    }

    void load() {
        put(Column::purpose, point_.purpose);
        put_word(Column::use, point_.purpose_kind);
        put_word(Column::load, point_.load_kind);
        put_word(Column::flow, point_.flow);
        put(Column::breaker, point_.breaker_a);
        put(Column::least, point_.least_a);
        put(Column::usual, point_.usual_a);
        put(Column::most, point_.most_a);
        put(Column::power_factor, point_.power_factor);
        put(Column::accuracy, point_.accuracy_percent);
    }

    void transformers() {
        auto text = cell(Column::ct_ratio);
        auto const primary = cell(Column::ct_primary);
        auto const secondary = cell(Column::ct_secondary);
        auto ratio_column = Column::ct_ratio;
        if (!text && primary && secondary) {
            text = *primary + ":" + *secondary;
            ratio_column = Column::ct_primary;
        } else if (!text && (primary || secondary)) {
            refuse(primary ? Column::ct_primary : Column::ct_secondary, "the other side of the ratio is not said");
        }
        if (text && !means_to_choose(*text))
            take(ratio_column, ratio_in(*text, sign_of(ratio_column)), [&](RatioInCell const& told) {
                point_.ct.ratio = told.ratio;
                point_.ct.output = told.output;
                point_.to_choose.ct = false;
            });
        if (auto const output = cell(Column::ct_output)) {
            if (lowered(*output) == "unknown" || lowered(*output) == "not known") point_.ct.output = plan::CtOutput::unknown;
            else take(Column::ct_output, output_in(*output), [&](plan::CtOutput value) { point_.ct.output = value; });
        }
        put(Column::ct_class, point_.ct.accuracy_class);
        put(Column::ct_model, point_.ct.model);
        put(Column::ct_burden, point_.ct.burden_va);
    }
    [[nodiscard]] static Told<plan::CtOutput> output_in(std::string const& text) {
        auto const plain = lowered(text);
        if (plain == "5a" || plain == "5 a" || plain == "5") return plan::CtOutput::five_amperes;
        if (plain == "1a" || plain == "1 a" || plain == "1") return plan::CtOutput::one_ampere;
        if (plain.ends_with("mv")) return plan::CtOutput::millivolts;
        if (plain.ends_with("ma")) return plan::CtOutput::milliamperes;
        return word_in<plan::CtOutput>(text);
    }

    void wires() {
        auto const count = whole(Column::cables_per_phase);
        if (count) point_.cables_per_phase = *count;
        if (auto const told = size(Column::cable, count.has_value())) {
            if (!point_.cable) point_.cable.emplace();
            point_.cable->size = told->size;
            if (told->count && !count) point_.cables_per_phase = *told->count;
            if (told->count && count && *told->count != *count)
                refuse(Column::cable, "so many cables are at odds with the column \"" +
                                          layout_.columns[*layout_.place_of(Column::cables_per_phase)].header + "\"");
        }
        if (auto const value = number(Column::cable_diameter)) {
            if (!point_.cable) point_.cable.emplace();
            point_.cable->diameter_mm = value;
        }
        if (auto const value = number(Column::lead_length)) {
            if (!point_.lead) point_.lead.emplace();
            point_.lead->length_m = *value;
        }
        if (auto const told = size(Column::lead_size, false)) {
            if (!point_.lead) refuse(Column::lead_size, "a lead has a size here and no length");
            else point_.lead->size = told->size;
        }
        if (auto const told = size(Column::tap_size, false)) {
            if (!point_.tap) point_.tap.emplace();
            point_.tap->size = told->size;
        }
        if (auto const value = number(Column::tap_fuse)) {
            if (!point_.tap) point_.tap.emplace();
            point_.tap->fuse_a = value;
            point_.tap->protection = plan::TapProtection::fuse;
        }
    }

    void meter() {
        if (auto const text = cell(Column::meter); text && !means_to_choose(*text)) {
            point_.meter_profile = *text;
            point_.to_choose.meter = false;
        }
        put(Column::serial_number, point_.meter_serial);
        auto const text = cell(Column::supply);
        if (!text) return;
        if (!point_.supply) point_.supply.emplace();
        if (lowered(*text) == "voltage inputs") point_.supply->supply.clear();
        else if (auto const* known = named(base_.supplies, *text)) point_.supply->supply = known->id;
        else if (rules_.may_add) {  // nothing is known of it but its name
            point_.supply.reset();
            keep_extra("supply", *text);
        } else refuse(Column::supply, "the plan has no such supply");
    }

    void bus() {
        auto& address = point_.address;
        auto const line = cell(Column::serial_line);
        auto const gateway = cell(Column::gateway);
        auto const host = cell(Column::host);
        if ((line && (gateway || host)) || (gateway && host)) {
            refuse(gateway ? Column::gateway : Column::host, "the row has two ways to the meter: serial line, gateway or host");
            return;
        }
        if (line && !means_to_choose(*line)) {
            auto const* known = named(base_.serial_lines, *line);
            if (known == nullptr && rules_.may_add && !id_from(*line).empty()) {
                base_.serial_lines.push_back({.id = id_from(*line), .name = *line});
                known = &base_.serial_lines.back();
            }
            if (known == nullptr) return refuse(Column::serial_line, "the plan has no such serial line");
            if (address.serial_line != known->id) address = {.host = {}, .port = 0, .unit = address.unit, .gateway = {}, .serial_line = known->id};
        } else if (gateway && !means_to_choose(*gateway)) {
            auto const* known = named(base_.gateways, *gateway);
            if (known == nullptr) return refuse(Column::gateway, "the plan has no such gateway");
            address = {.host = known->host, .port = known->port, .unit = address.unit, .gateway = known->id, .serial_line = {}};
        } else if (host && !means_to_choose(*host)) {
            address = {.host = *host, .port = 502, .unit = address.unit, .gateway = {}, .serial_line = {}};
        } else if (point_.to_choose.address) {
            return;  // a unit alone is no address yet
        }
        point_.to_choose.address = false;
        if (auto const value = whole(Column::port)) address.port = *value;
        if (auto const value = whole(Column::unit)) address.unit = *value;
        if (auto const value = whole(Column::position)) address.position = *value;
    }

    void keep_extra(std::string const& column, std::string const& text) {
        auto const known = std::ranges::find(point_.extra, column, &plan::ExtraColumn::column);
        if (known == point_.extra.end()) point_.extra.push_back({column, text});
        else known->text = text;
    }
    void extras() {
        for (std::size_t k = 0; k < row_.size() && k < layout_.columns.size(); ++k) {
            auto const& column = layout_.columns[k];
            if (column.known || column.is_ours || trimmed(row_[k].text).empty()) continue;
            keep_extra(column.header, row_[k].text);
        }
    }

    MeteringPoint& point_;
    plan::Site& base_;
    workbook::Row const& row_;
    ScheduleLayout const& layout_;
    ImportRules const& rules_;
    bool has_service_ = !point_.panel.empty();  // a point of the plan has both already
    std::optional<RowTrouble> trouble_;
};
}  // namespace

std::optional<RowTrouble> apply_row(MeteringPoint& point, plan::Site& base, workbook::Row const& row, ScheduleLayout const& layout,
                                    ImportRules const& rules) {
    return RowOnto(point, base, row, layout, rules).apply();
}

}  // namespace phasewright::commands
