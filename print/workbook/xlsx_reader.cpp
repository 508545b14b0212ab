#include "print/workbook/xlsx_reader.hpp"

#include <charconv>
#include <cmath>
#include <memory>
#include <optional>
#include <pugixml.hpp>

#include "core/quantity/text.hpp"
#include "print/workbook/zip_parts.hpp"

namespace phasewright::workbook {

namespace {
using quantity::Fault;

std::string_view local(char const* name) {
    std::string_view const whole = name;
    auto const colon = whole.rfind(':');
    return colon == std::string_view::npos ? whole : whole.substr(colon + 1);
}
pugi::xml_node child(pugi::xml_node node, std::string_view name) {
    for (auto const one : node.children())
        if (local(one.name()) == name) return one;
    return {};
}
std::string attribute(pugi::xml_node node, std::string_view name) {
    for (auto const one : node.attributes())
        if (local(one.name()) == name) return one.value();
    return {};
}

std::expected<std::unique_ptr<pugi::xml_document>, Fault> parsed(Parts const& parts, std::string const& part, std::string const& file) {
    auto const where = file + " part " + part;
    auto const found = parts.find(part);
    if (found == parts.end())
        return std::unexpected(Fault{"the container lacks a part of every XLSX file", where, {}, "an XLSX file", {}});
    // A document type could declare entities that grow without end or fetch files; no spreadsheet needs one.
    if (found->second.find("<!DOCTYPE") != std::string::npos || found->second.find("<!ENTITY") != std::string::npos)
        return std::unexpected(Fault{"the XML declares a document type or entities", where, "<!DOCTYPE or <!ENTITY",
                                     "XML without them, as spreadsheets write it", {}});
    auto document = std::make_unique<pugi::xml_document>();
    auto const result = document->load_buffer(found->second.data(), found->second.size(), pugi::parse_default | pugi::parse_ws_pcdata_single);
    if (!result)
        return std::unexpected(Fault{"the XML is broken", where + " byte " + std::to_string(result.offset), result.description(),
                                     "well-formed XML", {}});
    return document;
}

// The text of a string item: its own, or that of its runs; phonetic hints are left out.
std::string string_text(pugi::xml_node item) {
    std::string text;
    for (auto const one : item.children()) {
        if (local(one.name()) == "t") text += one.text().get();
        if (local(one.name()) == "r") text += child(one, "t").text().get();
    }
    return text;
}

std::string resolved(std::string target) {
    if (target.starts_with('/')) return target.substr(1);
    while (target.starts_with("./")) target.erase(0, 2);
    return "xl/" + target;
}

struct Place {
    std::size_t row = 0;
    std::size_t column = 0;
};
std::optional<Place> place_of(std::string_view name) {
    Place place;
    std::size_t at = 0;
    for (; at < name.size() && name[at] >= 'A' && name[at] <= 'Z' && at < 4; ++at)
        place.column = place.column * 26 + static_cast<std::size_t>(name[at] - 'A' + 1);
    auto const* const last = name.data() + name.size();
    auto const [end, error] = std::from_chars(name.data() + at, last, place.row);
    if (at == 0 || error != std::errc{} || end != last || place.row == 0) return std::nullopt;
    return Place{place.row - 1, place.column - 1};
}

Cell number_cell(std::string const& text) {
    double value = 0.0;
    auto const [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value)) return {.text = text};
    return {.text = quantity::shortest(value), .is_number = true};
}

class SheetReader {
public:
    SheetReader(std::vector<std::string> const& strings, std::string where, Limits const& limits, std::size_t& cells)
        : strings_(strings), where_(std::move(where)), limits_(limits), cells_(cells) {}

    std::expected<void, Fault> read(pugi::xml_node data, Sheet& sheet) {
        std::size_t next_row = 0;
        for (auto const row : data.children()) {
            if (local(row.name()) != "row") continue;
            std::size_t at = next_row;
            if (auto const number = attribute(row, "r"); !number.empty()) {
                auto const place = place_of("A" + number);
                if (!place) return std::unexpected(Fault{"a row has no number", where_, number, "1 and up", {}});
                at = place->row;
            }
            std::size_t next_column = 0;
            for (auto const cell : row.children())
                if (local(cell.name()) == "c")
                    if (auto const done = take(cell, at, next_column, sheet); !done) return done;
            next_row = at + 1;
        }
        return {};
    }

private:
    std::expected<void, Fault> take(pugi::xml_node node, std::size_t row, std::size_t& next_column, Sheet& sheet) {
        Place at{row, next_column};
        if (auto const name = attribute(node, "r"); !name.empty()) {
            auto const place = place_of(name);
            if (!place) return std::unexpected(Fault{"a cell has no place", where_, name, "such as B7", {}});
            at = *place;
        }
        next_column = at.column + 1;
        auto cell = value_of(node, at);
        if (!cell) return std::unexpected(cell.error());
        if (cell->text.empty()) return {};
        if (at.row >= limits_.rows || at.column >= limits_.columns) return std::unexpected(too_large(at));
        if (sheet.rows.size() <= at.row) sheet.rows.resize(at.row + 1);
        auto& cells = sheet.rows[at.row];
        if (cells.size() <= at.column) {
            cells_ += at.column + 1 - cells.size();
            if (cells_ > limits_.cells) return std::unexpected(too_large(at));
            cells.resize(at.column + 1);
        }
        cells[at.column] = std::move(*cell);
        return {};
    }

    std::expected<Cell, Fault> value_of(pugi::xml_node node, Place at) const {
        auto const type = attribute(node, "t");
        if (type == "inlineStr") return Cell{.text = string_text(child(node, "is"))};
        std::string const value = child(node, "v").text().get();
        if (type == "b") return Cell{.text = value == "1" ? "yes" : value.empty() ? "" : "no"};
        if (type == "str" || type == "e" || type == "d") return Cell{.text = value};
        if (type != "s") return number_cell(value);
        if (value.empty()) return Cell{};
        std::size_t index = 0;
        auto const [end, error] = std::from_chars(value.data(), value.data() + value.size(), index);
        if (error != std::errc{} || end != value.data() + value.size() || index >= strings_.size())
            return std::unexpected(Fault{"a cell names a shared string that is not there", where_ + " " + cell_name(at.row, at.column),
                                         value, "below " + std::to_string(strings_.size()), {}});
        return Cell{.text = strings_[index]};
    }

    [[nodiscard]] Fault too_large(Place at) const {
        return Fault{"the sheet is too large", where_ + " " + cell_name(at.row, at.column), {},
                     "at most " + std::to_string(limits_.rows) + " rows, " + std::to_string(limits_.columns) + " columns and " +
                         std::to_string(limits_.cells) + " cells",
                     {}};
    }

    std::vector<std::string> const& strings_;
    std::string where_;
    Limits const& limits_;
    std::size_t& cells_;
};

struct Contents {
    std::map<std::string, std::string> targets;  // of the workbook's relationships, by their id
    std::vector<std::string> strings;
};
std::expected<Contents, Fault> contents_of(Parts const& parts, std::string const& file) {
    Contents contents;
    auto const relations = parsed(parts, "xl/_rels/workbook.xml.rels", file);
    if (!relations) return std::unexpected(relations.error());
    std::string strings_part;
    for (auto const one : child((*relations)->root(), "Relationships").children()) {
        auto const target = resolved(attribute(one, "Target"));
        contents.targets[attribute(one, "Id")] = target;
        if (attribute(one, "Type").ends_with("/sharedStrings")) strings_part = target;
    }
    if (strings_part.empty()) return contents;
    auto const strings = parsed(parts, strings_part, file);
    if (!strings) return std::unexpected(strings.error());
    for (auto const item : child((*strings)->root(), "sst").children())
        if (local(item.name()) == "si") contents.strings.push_back(string_text(item));
    return contents;
}
}  // namespace

bool looks_like_xlsx(std::string_view bytes) { return bytes.starts_with("PK\x03\x04"); }

std::expected<std::vector<Sheet>, Fault> read_xlsx(std::string_view bytes, std::string const& file, Limits const& limits) {
    auto const parts = unpack(bytes, file, limits);
    if (!parts) return std::unexpected(parts.error());
    auto const book = parsed(*parts, "xl/workbook.xml", file);
    if (!book) return std::unexpected(book.error());
    auto const contents = contents_of(*parts, file);
    if (!contents) return std::unexpected(contents.error());
    std::vector<Sheet> sheets;
    std::size_t cells = 0;
    for (auto const one : child(child((*book)->root(), "workbook"), "sheets").children()) {
        if (local(one.name()) != "sheet") continue;
        Sheet sheet{.name = attribute(one, "name"), .rows = {}};
        std::string relation;  // r:id, beside which a plain id may stand
        for (auto const each : one.attributes())
            if (local(each.name()) == "id" && std::string_view{each.name()} != "id") relation = each.value();
        auto const target = contents->targets.find(relation);
        if (target == contents->targets.end())
            return std::unexpected(Fault{"a sheet leads to no part of the container", file, sheet.name, "an XLSX file", {}});
        auto const document = parsed(*parts, target->second, file);
        if (!document) return std::unexpected(document.error());
        SheetReader reader(contents->strings, file + " sheet \"" + sheet.name + "\"", limits, cells);
        if (auto const done = reader.read(child(child((*document)->root(), "worksheet"), "sheetData"), sheet); !done)
            return std::unexpected(done.error());
        sheets.push_back(std::move(sheet));
    }
    return sheets;
}

}  // namespace phasewright::workbook
