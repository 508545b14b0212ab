#include <doctest/doctest.h>

#include "app/commands/exchange_lines.hpp"

namespace phasewright::commands {

namespace {
std::string refused(std::string_view text) {
    auto const read = read_exchanges(text, "kept.jsonl");
    return read ? std::string("read") : quantity::to_sentence(read.error());
}
}  // namespace

TEST_CASE("exchanges that were kept read back as they were") {
    RecordedLine line;
    line.heard_before = false;
    line.strangers = {77};
    port::Exchange exchange{.unit = 7, .sent = *codec::from_hex("07 03 00 00 00 01 84 6C"), .heard = *codec::from_hex("07 83 02 21 30")};
    exchange.arrivals = {{0.0215, 3}, {0.0235, 2}};
    line.exchanges = {{exchange, false}, {{.unit = 8, .sent = exchange.sent}, true}};
    auto const text = exchanges_text(line);
    auto const again = read_exchanges(text, "kept.jsonl");
    REQUIRE(again);
    CHECK(exchanges_text(*again) == text);
    REQUIRE(again->exchanges.size() == 2);
    CHECK(again->exchanges[0].exchange.heard == exchange.heard);
    CHECK(again->exchanges[0].exchange.arrivals[1].bytes == 2);
    CHECK(again->exchanges[1].other_format);
    CHECK(again->strangers == std::vector<std::uint8_t>{77});
    CHECK(again->heard_before == false);
}

TEST_CASE("a line that is no exchange refuses the file and says where") {
    CHECK(refused(R"({"unit":7,"sent":"07 03","heard":"0"})").find("kept.jsonl:1") != std::string::npos);
    CHECK(refused("\n{\"unit\":0,\"sent\":\"07\"}").find("kept.jsonl:2 unit") != std::string::npos);
    CHECK(refused(R"({"unit":7.5,"sent":"07"})").find("whole") != std::string::npos);
    CHECK(refused(R"({"unit":7})").find("sent") != std::string::npos);
    CHECK(refused(R"({"unit":7,"sent":"07","heard":"01","arrivals":[[0.1,5]]})").find("arrivals") != std::string::npos);
    CHECK(refused(R"({"unit":7,"sent":"07","heard":"01","arrivals":[[-1e999,1]]})") != "read");
    CHECK(refused(R"({"strangers":[300]})").find("strangers") != std::string::npos);
    CHECK(refused(R"({"unit":7,"sent":"07","bytes":"01"})").find("not known") != std::string::npos);
    CHECK(refused("[1,2]") != "read");
    CHECK(refused("{\"unit\":") != "read");
    CHECK(refused("") == "read");
}

TEST_CASE("without times the bytes are taken to have come at once") {
    auto const read = read_exchanges(R"({"unit":7,"sent":"07 03","heard":"07 83 02"})", "kept.jsonl");
    REQUIRE(read);
    REQUIRE(read->exchanges.size() == 1);
    CHECK(read->exchanges[0].exchange.arrivals.at(0).bytes == 3);
}

}  // namespace phasewright::commands
