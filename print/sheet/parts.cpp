#include "print/sheet/parts.hpp"

#include <algorithm>
#include <cmath>

#include "core/quantity/angle.hpp"
#include "core/quantity/text.hpp"
#include "core/report/wording.hpp"
#include "print/sheet/svg.hpp"

namespace phasewright::sheet {

namespace {

std::optional<double> sum_of(std::vector<diagnosis::ElementValues> const& values,
                             std::optional<double> diagnosis::ElementValues::* field) {
    double sum = 0.0;
    for (auto const& value : values) {
        if (!(value.*field)) return std::nullopt;
        sum += *(value.*field);
    }
    return values.empty() ? std::nullopt : std::optional{sum};
}

bool in_kilowatts(std::vector<diagnosis::ElementValues> const& values) {
    return std::ranges::any_of(values, [](auto const& value) {
        return std::abs(value.p.value_or(0.0)) >= 1000.0 || std::abs(value.q.value_or(0.0)) >= 1000.0;
    });
}

std::string age_words(double age_s) {
    if (age_s < 1.0) return "below 1 s";
    return quantity::fixed(age_s, 0) + " s";
}

std::string block_cell(std::string_view name, std::string_view value) {
    return "<div><dt>" + words(name) + "</dt><dd>" +
           escaped(value.empty() ? "\u2013" : shortened(value, 14.0, 300.0)) + "</dd></div>";
}
// A cell whose content is short by nature and stays on one line.
std::string tight_cell(std::string_view name, std::string_view value) {
    return "<div class=\"tight\"><dt>" + words(name) + "</dt><dd>" + escaped(shortened(value, 14.0, 240.0)) +
           "</dd></div>";
}

}  // namespace

std::string words(std::string_view text) { return escaped(typeset(text)); }

std::string paragraph(std::string_view text, std::string_view css_class) {
    if (text.empty()) return {};
    std::string const opening = css_class.empty() ? "<p>" : "<p class=\"" + std::string(css_class) + "\">";
    return opening + words(text) + "</p>\n";
}

std::string heading(std::string_view text) { return "<h3>" + words(text) + "</h3>\n"; }

std::string bullets(std::vector<std::string> const& items) {
    if (items.empty()) return {};
    std::string text = "<ul>";
    for (auto const& item : items) text += "<li>" + words(item) + "</li>";
    return text + "</ul>\n";
}

std::string number_cell(std::optional<double> value, int decimals) {
    bool const shown = value && std::isfinite(*value);
    return "<td class=\"n\">" + (shown ? words(quantity::fixed(*value, decimals)) : "\u2013") + "</td>";
}

std::string word_cell(std::string_view text, std::string_view css_class) {
    std::string const opening = css_class.empty() ? "<td>" : "<td class=\"" + std::string(css_class) + "\">";
    return opening + words(text) + "</td>";
}

std::string element_table(std::string_view caption, std::vector<report::ElementNames> const& names,
                          std::vector<diagnosis::ElementValues> const& values, std::optional<double> age_s) {
    if (values.empty()) return {};
    bool const kilo = in_kilowatts(values);
    auto const scaled = [&](std::optional<double> value) {
        return value && kilo ? std::optional{*value / 1e3} : value;
    };
    int const decimals = kilo ? 2 : 0;
    std::string text =
        "<table class=\"numbers\"><caption>" + words(caption) + "</caption><thead><tr><th>element</th>";
    text += "<th class=\"n\">V<br>V</th><th class=\"n\">I<br>A</th><th class=\"n\">φ<br>°</th>";
    text += kilo ? R"(<th class="n">P<br>kW</th><th class="n">Q<br>kvar</th>)"
                 : R"(<th class="n">P<br>W</th><th class="n">Q<br>var</th>)";
    if (age_s) text += "<th class=\"n\">age</th>";
    text += "</tr></thead><tbody>";
    for (std::size_t k = 0; k < values.size(); ++k) {
        auto const& value = values[k];
        auto lag = report::lag_of(value);
        if (lag) lag = quantity::wrapped_deg(*lag);
        std::string const name = k < names.size() ? names[k].voltage : std::to_string(k + 1);
        text += "<tr>" + word_cell(name, "w") + number_cell(value.v, 1) + number_cell(value.i, 2) +
                number_cell(lag, 0) + number_cell(scaled(value.p), decimals) +
                number_cell(scaled(value.q), decimals);
        if (age_s) text += "<td class=\"n\">" + words(age_words(*age_s)) + "</td>";
        text += "</tr>";
    }
    auto const p = sum_of(values, &diagnosis::ElementValues::p),
               q = sum_of(values, &diagnosis::ElementValues::q);
    if (values.size() > 1 && (p || q)) {
        text += "<tr class=\"sum\">" + word_cell("sum") + "<td></td><td></td><td></td>";
        text += number_cell(scaled(p), decimals) + number_cell(scaled(q), decimals) +
                (age_s ? "<td></td></tr>" : "</tr>");
    }
    return text + "</tbody></table>\n";
}

std::string title_block(report::JobReport const& report, TitleBlock const& block) {
    std::string text = "<dl class=\"block\">";
    auto const& site = report.site;
    text += block_cell("site", site.place.empty() ? site.name : site.name + ", " + site.place);
    if (!block.point.empty()) {
        text += block_cell("panel", block.panel);
        text += block_cell("point", block.point);
    } else {
        text += block_cell("point", "all metering points");
    }
    text += tight_cell("sheet", std::to_string(block.sheet) + " of " + std::to_string(block.sheets));
    text += tight_cell("revision", report.revision);
    text += tight_cell("date", report::date_words(report.made_at));
    text += tight_cell("digest", block.digest.substr(0, 12));
    return text + "</dl>\n";
}

}  // namespace phasewright::sheet
