// CSV against the grammar and the examples of RFC 4180, clause 2. Semicolons, tabs, the byte order mark and one-byte letters
// are common practice, no source.
#include "print/workbook/csv.hpp"

#include <doctest/doctest.h>

using namespace phasewright;
using workbook::read_csv;
using workbook::text_at;

namespace {
using Texts = std::vector<std::vector<std::string>>;
Texts texts_of(std::string const& bytes) {
    auto const sheet = read_csv(bytes, "s.csv");
    if (!sheet) FAIL(quantity::to_sentence(sheet.error()));
    Texts texts;
    for (auto const& row : sheet->rows) {
        texts.emplace_back();
        for (auto const& cell : row) texts.back().push_back(cell.text);
    }
    return texts;
}
}  // namespace

TEST_CASE("the examples of RFC 4180 read as it says") {
    CHECK(texts_of("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n") == Texts{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}});
    CHECK(texts_of("aaa,bbb,ccc\r\nzzz,yyy,xxx") == Texts{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}});
    CHECK(texts_of("\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx") == Texts{{"aaa", "b\r\nbb", "ccc"}, {"zzz", "yyy", "xxx"}});
    CHECK(texts_of("\"aaa\",\"b\"\"bb\",\"ccc\"") == Texts{{"aaa", "b\"bb", "ccc"}});
}

TEST_CASE("semicolons and tabs are found out, and a decimal comma separates nothing then") {
    CHECK(texts_of("a;b;c\n1,5;2,5;3\n") == Texts{{"a", "b", "c"}, {"1,5", "2,5", "3"}});
    CHECK(texts_of("a\tb\n1,5\t2;5\n") == Texts{{"a", "b"}, {"1,5", "2;5"}});
    CHECK(texts_of("a,b\n\"1,5\",\"x;y;z\"\n") == Texts{{"a", "b"}, {"1,5", "x;y;z"}});
    CHECK(texts_of("one column\n5\n") == Texts{{"one column"}, {"5"}});
    CHECK(texts_of("a,b,\n1,2,") == Texts{{"a", "b", ""}, {"1", "2", ""}});
    CHECK(texts_of("").empty());
}

TEST_CASE("a byte order mark is no letter, and one byte a letter is read too") {
    CHECK(texts_of("\xEF\xBB\xBFname,mm\xC2\xB2\n") == Texts{{"name", "mm\xC2\xB2"}});
    CHECK(texts_of("name,mm\xB2\n") == Texts{{"name", "mm\xC2\xB2"}});
    CHECK(texts_of("Z\xE4hler,1\n") == Texts{{"Z\xC3\xA4hler", "1"}});
}

TEST_CASE("what is no CSV is refused and says where") {
    auto const sentence = [](std::string_view bytes, workbook::Limits const& limits = {}) {
        auto const sheet = read_csv(bytes, "s.csv", limits);
        REQUIRE_FALSE(sheet.has_value());
        return quantity::to_sentence(sheet.error());
    };
    CHECK(sentence("a,b\n1,\"2\n3\n").starts_with("s.csv:2: a quote is opened and never closed"));
    CHECK(sentence(std::string_view{"a\0b", 3}).find("zero byte") != std::string::npos);
    CHECK(sentence("a,b,c\n", {.columns = 2}).find("the sheet is too large") != std::string::npos);
    CHECK(sentence("a\nb\nc\n", {.rows = 2}).starts_with("s.csv:3"));
    CHECK(sentence("aaaa", {.bytes = 3}).find("the file is too large") != std::string::npos);
}

TEST_CASE("what is written reads back, and no cell becomes a formula") {
    workbook::Sheet const sheet{"", {{{"a,b"}, {"\"q\""}, {"line\nbreak"}, {" edge "}},
                                     {{"=1+1"}, {"-5"}, {"-x"}, {"+49 30"}},
                                     {{""}},
                                     {{"5.5", true}, {"x;y"}, {"@z"}}}};
    auto const text = workbook::write_csv(sheet);
    CHECK(text.find("'=1+1,-5,'-x,'+49 30\r\n") != std::string::npos);
    auto const again = read_csv(text, "s.csv");
    REQUIRE(again.has_value());
    REQUIRE(again->rows.size() == sheet.rows.size());
    for (std::size_t r = 0; r < sheet.rows.size(); ++r)
        for (std::size_t c = 0; c < sheet.rows[r].size(); ++c) CHECK(text_at(again->rows[r], c) == sheet.rows[r][c].text);
}

TEST_CASE("cells are called as spreadsheets call them") {
    CHECK(workbook::cell_name(6, 1) == "B7");
    CHECK(workbook::column_name(25) == "Z");
    CHECK(workbook::column_name(26) == "AA");
    CHECK(workbook::column_name(701) == "ZZ");
    CHECK(workbook::column_name(702) == "AAA");
    CHECK(workbook::column_name(16383) == "XFD");  // the last one of SpreadsheetML, ECMA-376 Part 1, 18.3.1.73 (from memory)
}
