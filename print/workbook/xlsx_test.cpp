// XLSX: what is written is read back by an independent reader (xlsx2csv of Debian) and by our own; hostile containers and
// XML are refused within limits. The parts and names are those of ECMA-376 Part 1 (SpreadsheetML, clause 18).
#include <archive.h>
#include <archive_entry.h>
#include <doctest/doctest.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>

#include "print/workbook/csv.hpp"
#include "print/workbook/xlsx_reader.hpp"
#include "print/workbook/xlsx_writer.hpp"

using namespace phasewright;
using workbook::Sheet;

namespace {
using Entries = std::vector<std::pair<std::string, std::string>>;

std::string zipped(Entries const& entries) {
    std::string bytes(1U << 22U, '\0');
    std::size_t used = 0;
    auto* const out = archive_write_new();
    archive_write_set_format_zip(out);
    archive_write_open_memory(out, bytes.data(), bytes.size(), &used);
    for (auto const& [name, text] : entries) {
        auto* const entry = archive_entry_new();
        archive_entry_set_pathname(entry, name.c_str());
        archive_entry_set_size(entry, static_cast<la_int64_t>(text.size()));
        archive_entry_set_filetype(entry, AE_IFREG);
        archive_entry_set_perm(entry, 0644);
        REQUIRE(archive_write_header(out, entry) == ARCHIVE_OK);
        archive_write_data(out, text.data(), text.size());
        archive_entry_free(entry);
    }
    archive_write_close(out);
    archive_write_free(out);
    bytes.resize(used);
    return bytes;
}

std::string const book = R"(<?xml version="1.0"?><x:workbook xmlns:x="m" xmlns:r="o"><x:sheets>
<x:sheet name="Meters" sheetId="1" r:id="rId1"/><x:sheet name="Notes" sheetId="2" r:id="rId2"/></x:sheets></x:workbook>)";
std::string const relations = R"(<Relationships><Relationship Id="rId1" Type="t/worksheet" Target="worksheets/sheet1.xml"/>
<Relationship Id="rId2" Type="t/worksheet" Target="/xl/worksheets/sheet2.xml"/>
<Relationship Id="rId3" Type="t/sharedStrings" Target="sharedStrings.xml"/></Relationships>)";
std::string const strings = R"(<sst><si><t>point</t></si><si><r><t>CT </t></r><r><t xml:space="preserve">ratio</t></r><rPh><t>no</t></rPh></si></sst>)";
std::string const meters = R"(<worksheet><sheetData><row r="2"><c r="A2" t="s"><v>0</v></c><c r="C2" t="s"><v>1</v></c></row>
<row><c t="inlineStr"><is><t>tenant &amp; sons</t></is></c><c><v>0.33300000000000002</v></c><c t="b"><v>1</v></c><c s="4"><v>45000</v></c></row>
<row r="4"><c r="B4"><f>1+1</f><v>2</v></c><c r="C4" t="str"><v>200/5</v></c><c r="D4" t="e"><v>#N/A</v></c><c r="E4"/></row></sheetData></worksheet>)";
std::string const notes = R"(<worksheet><sheetData/></worksheet>)";

Entries good() {
    return {{"xl/workbook.xml", book}, {"xl/_rels/workbook.xml.rels", relations}, {"xl/sharedStrings.xml", strings},
            {"xl/worksheets/sheet1.xml", meters}, {"xl/worksheets/sheet2.xml", notes}};
}
std::string refused(Entries const& entries, workbook::Limits const& limits = {}) {
    auto const sheets = workbook::read_xlsx(zipped(entries), "s.xlsx", limits);
    REQUIRE_FALSE(sheets.has_value());
    return quantity::to_sentence(sheets.error());
}
std::string with(std::string part, std::string const& passage, std::string const& instead) {
    auto const at = part.find(passage);
    REQUIRE(at != std::string::npos);
    return part.replace(at, passage.size(), instead);
}
std::string bytes_of(std::filesystem::path const& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}
std::string output_of(std::string const& command) {
    std::string text;
    auto* const pipe = popen(command.c_str(), "r");
    REQUIRE(pipe != nullptr);
    std::array<char, 4096> some{};
    for (std::size_t count = 0; (count = fread(some.data(), 1, some.size(), pipe)) > 0;) text.append(some.data(), count);
    CHECK(pclose(pipe) == 0);
    return text;
}
Sheet const sample{"Schedule", {{{"point"}, {"CT ratio"}, {"breaker A"}},
                                {{"tenant-1"}, {"100/5"}, {"63", true}},
                                {{"b\xC3\xBCro \"2\""}, {"200:0.333"}, {"0.1", true}},
                                {{""}, {"=1+1"}, {"a,b"}}}};
}  // namespace

TEST_CASE("shared, inline and run strings, numbers, booleans, dates and formulas' values are read") {
    auto const sheets = workbook::read_xlsx(zipped(good()), "s.xlsx");
    if (!sheets) FAIL(quantity::to_sentence(sheets.error()));
    REQUIRE(sheets->size() == 2);
    auto const& sheet = sheets->front();
    CHECK(sheet.name == "Meters");
    REQUIRE(sheet.rows.size() == 4);
    CHECK(sheet.rows[0].empty());
    CHECK(sheet.rows[1] == workbook::Row{{"point"}, {}, {"CT ratio"}});
    CHECK(sheet.rows[2] == workbook::Row{{"tenant & sons"}, {"0.333", true}, {"yes"}, {"45000", true}});
    CHECK(sheet.rows[3] == workbook::Row{{}, {"2", true}, {"200/5"}, {"#N/A"}});
    CHECK(sheets->back().rows.empty());
}

TEST_CASE("what is written is read back by an independent reader and by our own, and its bytes do not change") {
    auto const folder = std::filesystem::temp_directory_path() / "phasewright-xlsx";
    std::filesystem::create_directories(folder);
    auto const file = folder / "one.xlsx";
    REQUIRE(workbook::write_xlsx({sample}, file).has_value());
    REQUIRE(workbook::write_xlsx({sample}, folder / "two.xlsx").has_value());
    CHECK(bytes_of(file) == bytes_of(folder / "two.xlsx"));

    auto const own = workbook::read_xlsx(bytes_of(file), "one.xlsx");
    REQUIRE(own.has_value());
    REQUIRE(own->size() == 1);
    CHECK(own->front() == sample);
    auto const peer = workbook::read_csv(output_of("xlsx2csv " + file.string()), "peer");
    REQUIRE(peer.has_value());
    REQUIRE(peer->rows.size() == sample.rows.size());
    for (std::size_t r = 0; r < sample.rows.size(); ++r)
        for (std::size_t c = 0; c < sample.rows[r].size(); ++c)
            CHECK(workbook::text_at(peer->rows[r], c) == sample.rows[r][c].text);
    auto const nowhere = workbook::write_xlsx({sample}, folder / "no/such/folder.xlsx");
    REQUIRE_FALSE(nowhere.has_value());
    CHECK_FALSE(std::filesystem::exists(folder / "no"));
    std::filesystem::remove_all(folder);
}

TEST_CASE("a container that unpacks to anything is refused before it fills the memory") {
    auto bomb = good();
    bomb[3].second = std::string(3U << 20U, ' ');
    CHECK(zipped(bomb).size() < (1U << 16U));
    CHECK(refused(bomb, {.part_bytes = 1U << 20U}).starts_with("s.xlsx part xl/worksheets/sheet1.xml: the file unpacks to more"));
    CHECK(refused(bomb, {.bytes = 2U << 20U}).starts_with("s.xlsx: the file unpacks to more"));
    CHECK(refused(good(), {.parts = 3}).find("too many parts") != std::string::npos);
    auto far = good();
    far[3].second = with(meters, "r=\"B4\"", "r=\"XFD4\"");
    CHECK(refused(far).starts_with("s.xlsx sheet \"Meters\" XFD4: the sheet is too large"));
    far[3].second = with(meters, "<row r=\"4\"><c r=\"B4\"", "<row r=\"1048576\"><c r=\"B1048576\"");
    CHECK(refused(far).find("B1048576: the sheet is too large") != std::string::npos);
    CHECK(refused(good(), {.cells = 5}).find("the sheet is too large") != std::string::npos);
}

TEST_CASE("hostile and broken files are refused and say what is wrong") {
    auto hostile = good();
    hostile[2].second = "<!DOCTYPE sst [<!ENTITY a \"aaaa\"><!ENTITY b \"&a;&a;\">]><sst><si><t>&b;</t></si></sst>";
    CHECK(refused(hostile).starts_with("s.xlsx part xl/sharedStrings.xml: the XML declares a document type or entities"));
    auto broken = good();
    broken[3].second = meters.substr(0, 200);
    CHECK(refused(broken).find("the XML is broken") != std::string::npos);
    broken[3].second = with(meters, "<v>1</v></c></row>", "<v>7</v></c></row>");
    CHECK(refused(broken).starts_with("s.xlsx sheet \"Meters\" C2: a cell names a shared string that is not there; found 7; allowed: below 2"));
    broken[3].second = with(meters, "r=\"A2\"", "r=\"2A\"");
    CHECK(refused(broken).find("a cell has no place; found 2A") != std::string::npos);
    auto lacking = good();
    lacking.erase(lacking.begin());
    CHECK(refused(lacking).starts_with("s.xlsx part xl/workbook.xml: the container lacks a part"));
    auto twice = good();
    twice.push_back(twice.back());
    CHECK(refused(twice).find("two parts of one name") != std::string::npos);

    auto const bytes = zipped(good());
    auto const cut = workbook::read_xlsx(bytes.substr(0, bytes.size() / 2), "s.xlsx");
    CHECK_FALSE(cut.has_value());
    auto const none = workbook::read_xlsx("PK\x03\x04 and nothing else", "s.xlsx");
    REQUIRE_FALSE(none.has_value());
    CHECK_FALSE(none.error().what.empty());
    CHECK(workbook::looks_like_xlsx(bytes));
    CHECK_FALSE(workbook::looks_like_xlsx("point,breaker\n"));
}

TEST_CASE("elements nested without end do not exhaust the stack") {
    auto deep = good();
    std::string nested = "<worksheet><sheetData>";
    for (int k = 0; k < 100'000; ++k) nested += "<row>";
    deep[3].second = nested;
    CHECK(refused(deep).find("the XML is broken") != std::string::npos);
    for (int k = 0; k < 100'000; ++k) nested += "</row>";
    deep[3].second = nested + "</sheetData></worksheet>";
    CHECK(workbook::read_xlsx(zipped(deep), "s.xlsx").has_value());
}
