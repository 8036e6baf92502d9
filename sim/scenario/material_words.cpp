#include "sim/scenario/material_words.hpp"

#include <array>

namespace spotwright::scenario {

namespace {

// A row is nearest by what sends the light back: colour, gloss, depth. Standard designations of steels, alloys and
// plastics are words, too. Light goes into most bright plastics, so those that have a volume come first.
constexpr std::array table{
    // Wood and what is made of it.
    MaterialWords{"wood, timber, lumber", "wood-pine wood-beech wood-oak wood-walnut varnished-wood"},
    MaterialWords{"softwood, spruce, fir, larch, pine, cedar, poplar, birch, ash wood", "wood-pine wood-beech"},
    MaterialWords{"hardwood", "wood-beech wood-oak wood-walnut"},
    MaterialWords{"beech, maple, hornbeam, bamboo", "wood-beech"},
    MaterialWords{"oak, cherry, elm, chestnut", "wood-oak"},
    MaterialWords{"walnut, teak, mahogany, wenge, rosewood, ebony", "wood-walnut"},
    MaterialWords{"parquet, varnished, lacquered wood, furniture", "varnished-wood"},
    MaterialWords{"plywood, veneer", "wood-pine wood-beech"},
    MaterialWords{"fibreboard, fiberboard, hdf, mdf, chipboard, particle board, particleboard, hardboard", "mdf"},
    MaterialWords{"cork", "cork"},
    // Paper and print.
    MaterialWords{"paper", "white-paper kraft-paper newsprint white-label"},
    MaterialWords{"card, board, carton, paperboard", "white-cardboard cardboard grey-cardboard"},
    MaterialWords{"cardboard, corrugated, box", "cardboard white-cardboard grey-cardboard"},
    MaterialWords{"kraft, paper bag, brown paper", "kraft-paper"},
    MaterialWords{"newspaper, newsprint", "newsprint"},
    MaterialWords{"label, sticker, coated paper, glossy paper", "white-label"},
    MaterialWords{"ink, print, toner, barcode, marker", "black-ink"},
    // Plastics.
    MaterialWords{
        "plastic, polymer, thermoplastic, resin",
        "white-pom white-ptfe polyamide-natural polyethylene-white polypropylene-natural peek-natural abs-white "
        "abs-black black-glossy-plastic pvc-grey clear-acrylic clear-polycarbonate clear-pet "
        "frosted-plastic translucent-polymer"},
    MaterialWords{"white plastic", "white-pom polyethylene-white abs-white white-ptfe"},
    MaterialWords{"black plastic", "abs-black black-glossy-plastic black-epoxy-moulding"},
    MaterialWords{"grey plastic, gray plastic, polyvinyl chloride, pvc, vinyl", "pvc-grey"},
    MaterialWords{"clear plastic, transparent plastic, transparent film, clear film",
                  "clear-pet clear-acrylic clear-polycarbonate"},
    MaterialWords{"translucent, translucent plastic, milky plastic", "translucent-polymer translucent-silicone"},
    MaterialWords{"polyamide, nylon, pa, pa6, pa66, pa12", "polyamide-natural"},
    MaterialWords{"acetal, polyacetal, polyoxymethylene, pom", "white-pom"},
    MaterialWords{"ptfe, polytetrafluoroethylene, fluoropolymer, pvdf, pfa", "white-ptfe"},
    MaterialWords{"polyethylene, pe, hdpe, ldpe, uhmwpe, pe hd, pe uhmw", "polyethylene-white"},
    MaterialWords{"polypropylene, pp", "polypropylene-natural"},
    MaterialWords{"peek, polyetheretherketone, pps, pei, polyimide", "peek-natural"},
    MaterialWords{"acrylic, acrylic glass, pmma, polymethyl methacrylate", "clear-acrylic frosted-plastic"},
    MaterialWords{"polycarbonate, pc", "clear-polycarbonate"},
    MaterialWords{"pet, bottle, pe foil, plastic foil, plastic film, stretch film, polyester film, polyethylene "
                  "terephthalate, petg, blister, film",
                  "clear-pet"},
    MaterialWords{"frosted, diffuser, satin acrylic", "frosted-plastic sandblasted-glass"},
    MaterialWords{"acrylonitrile butadiene styrene, abs, polystyrene, asa, pc abs", "abs-white abs-black"},
    MaterialWords{"phenolic, duroplast, thermoset, piano black", "black-glossy-plastic"},
    MaterialWords{"cap, lid, closure, white lid, plastic lid, plastic cap",
                  "polypropylene-natural polyethylene-white white-pom"},
    MaterialWords{
        "epoxy, mould compound, mold compound, moulding compound, molding compound, ic package, chip package, "
        "package, encapsulation, potting",
        "black-epoxy-moulding"},
    // Foam, rubber, silicone.
    MaterialWords{"foam, sponge", "epdm-foam polystyrene-foam"},
    MaterialWords{"white foam, expanded polystyrene, polystyrene foam, eps, xps, polyurethane foam",
                  "polystyrene-foam"},
    MaterialWords{"foam rubber, sponge rubber, cellular rubber, black foam", "epdm-foam"},
    MaterialWords{"rubber, elastomer",
                  "black-rubber epdm-rubber epdm-foam natural-rubber blue-nitrile white-silicone translucent-silicone "
                  "red-silicone"},
    MaterialWords{"seal, gasket, rubber seal, o ring, oring, sealing, weatherstrip, profile seal",
                  "epdm-rubber epdm-foam black-rubber white-silicone"},
    MaterialWords{"epdm, ethylene propylene", "epdm-rubber epdm-foam"},
    MaterialWords{"tyre, tire, tyre rubber, chloroprene, conveyor belt, drive belt, polyurethane", "black-rubber"},
    MaterialWords{"natural rubber, latex, caoutchouc", "natural-rubber"},
    MaterialWords{"nitrile, nbr, glove", "blue-nitrile"},
    MaterialWords{"silicone", "white-silicone translucent-silicone red-silicone"},
    MaterialWords{"clear silicone, transparent silicone, pdms, silicone hose", "translucent-silicone"},
    // Steel.
    MaterialWords{"steel, iron, metal",
                  "ground-steel turned-steel stainless-steel brushed-stainless-steel polished-steel lapped-steel "
                  "blasted-steel hot-rolled-steel black-oxide-steel galvanised-steel rusty-steel"},
    MaterialWords{
        "tool steel, hardened steel, hardened, carbide, cemented carbide, hard metal, gauge block, feeler gauge",
        "ground-steel lapped-steel tungsten-ground"},
    MaterialWords{"carbon steel, mild steel, structural steel, c45, s235, s355, machined steel, 42crmo4, 16mncr5",
                  "turned-steel ground-steel hot-rolled-steel"},
    MaterialWords{"shaft, spindle, turned, lathe", "turned-steel ground-steel hard-chrome-ground"},
    MaterialWords{"stainless, inox, sus304, sus316, 304, 304l, 316, 316l, 1.4301, 1.4404, 1.4571, cold rolled",
                  "stainless-steel brushed-stainless-steel"},
    MaterialWords{"brushed, brushed steel, brushed stainless, brushed metal", "brushed-stainless-steel"},
    MaterialWords{"polished metal, bearing ball, roller bearing, bearing", "polished-steel chrome-plated lapped-steel"},
    MaterialWords{"lapped", "lapped-steel"},
    MaterialWords{"sheet metal, steel sheet, strip, coil, steel strip",
                  "stainless-steel galvanised-steel hot-rolled-steel rolled-aluminium"},
    MaterialWords{"scale, mill scale, hot rolled, slab, billet, forging, forged", "hot-rolled-steel"},
    MaterialWords{"rust, rusty, corroded, weathering steel", "rusty-steel"},
    MaterialWords{"blued, black oxide, blackened, burnished steel, phosphated", "black-oxide-steel"},
    MaterialWords{"blasted, sandblasted, shot blasted, shot peened, sandblasted steel",
                  "blasted-steel bead-blasted-aluminium sandblasted-glass"},
    MaterialWords{"cast iron, grey iron, gray iron, ductile iron, gg25, casting", "cast-iron-machined cast-iron-raw"},
    MaterialWords{"raw casting, raw cast iron, sand cast, sand casting, foundry", "cast-iron-raw"},
    MaterialWords{"galvanised, galvanized, galvanised steel, zinc coated, zinc plated", "galvanised-steel"},
    MaterialWords{"zinc", "zinc-die-cast galvanised-steel"},
    // Other metals.
    MaterialWords{
        "aluminium, aluminum, alu, 6061, 6082, 7075, 5083, almgsi",
        "milled-aluminium rolled-aluminium bead-blasted-aluminium polished-aluminium clear-anodised-aluminium "
        "black-anodised-aluminium die-cast-aluminium"},
    MaterialWords{"machined aluminium, machined aluminum, milled", "milled-aluminium milled-copper"},
    MaterialWords{"aluminium foil, aluminum foil, aluminium sheet, aluminium can, can, foil, tin foil, tinfoil",
                  "rolled-aluminium tin-plated"},
    MaterialWords{"die cast, diecast, die casting, pressure die casting", "die-cast-aluminium zinc-die-cast"},
    MaterialWords{"anodised, anodized, anodised aluminium, anodized aluminum, anodising, anodizing",
                  "clear-anodised-aluminium black-anodised-aluminium clear-anodised-blasted-aluminium "
                  "black-anodised-blasted-aluminium red-anodised-blasted-aluminium"},
    MaterialWords{"copper, busbar, cu, copper tube, hairpin", "copper milled-copper"},
    MaterialWords{"machined copper, copper electrode", "milled-copper"},
    MaterialWords{"brass, bronze, ms58, cuzn39pb3", "brass"},
    MaterialWords{"gold, gold plated, contact, connector pin, pin", "gold-plated tin-plated"},
    MaterialWords{"silver, silver plated", "polished-aluminium tin-plated"},
    MaterialWords{"nickel, nickel plated, electroless nickel", "nickel-plated"},
    MaterialWords{"chrome, chromium, chromed, chrome plated", "chrome-plated hard-chrome-ground"},
    MaterialWords{"hard chrome, piston rod, hydraulic rod, plunger", "hard-chrome-ground"},
    MaterialWords{"tin, tinplate, tinned, tin plate, food can", "tin-plated"},
    MaterialWords{"titanium, ti6al4v", "titanium-machined"},
    MaterialWords{"tungsten, molybdenum", "tungsten-ground"},
    MaterialWords{"graphite, carbon, anode, battery electrode, electrode", "graphite"},
    MaterialWords{"mirror, reflector", "mirror polished-aluminium chrome-plated"},
    // Glass, ceramics, minerals.
    MaterialWords{"glass, window glass, float glass, lens, vial, crown glass, quartz, fused silica, sapphire, display",
                  "clear-glass sandblasted-glass"},
    MaterialWords{"ground glass, frosted glass, etched glass, opal glass", "sandblasted-glass"},
    MaterialWords{"ceramic, white tile", "white-ceramic alumina ceramic-tile-brown"},
    MaterialWords{"tile, porcelain, glazed", "white-ceramic ceramic-tile-brown white-enamel"},
    MaterialWords{"alumina, al2o3, aluminium oxide, zirconia, steatite, technical ceramic", "alumina"},
    MaterialWords{"enamel, vitreous, washbasin, bathtub", "white-enamel"},
    MaterialWords{"gypsum, plasterboard, drywall", "gypsum-board plaster"},
    MaterialWords{"plaster, stucco, wall, chalk", "plaster gypsum-board"},
    MaterialWords{"concrete, cement, mortar, screed", "concrete"},
    MaterialWords{"marble, limestone, travertine", "marble"},
    MaterialWords{"stone, granite, sandstone, gravel, sand, soil", "concrete marble"},
    MaterialWords{"slate, basalt, coal", "asphalt"},
    MaterialWords{"brick, clay, terracotta, roof tile", "red-brick"},
    MaterialWords{"asphalt, bitumen, road, pavement", "asphalt"},
    // Electronics.
    MaterialWords{"wafer, silicon, chip, die, solar cell, semiconductor", "silicon-wafer"},
    MaterialWords{"pcb, printed circuit board, circuit board, solder mask, solder resist",
                  "solder-mask-green solder-mask-green-on-copper solder-mask-green-on-laminate solder-mask-blue "
                  "solder-mask-black solder-mask-white printed-board"},
    MaterialWords{"laminate, fr4, fr 4, prepreg, bare board",
                  "printed-board glass-fibre-laminate carbon-fibre-laminate"},
    MaterialWords{"solder joint, solder, bga, solder ball, pad", "solder solder-paste"},
    MaterialWords{"paste, solder paste", "solder-paste"},
    // Composites.
    MaterialWords{"carbon fibre, carbon fiber, cfrp, cfk", "carbon-fibre-laminate"},
    MaterialWords{"glass fibre, glass fiber, fibreglass, fiberglass, gfrp, grp, gfk", "glass-fibre-laminate"},
    // Coats.
    MaterialWords{"paint, lacquer, coating, varnish, car body, primer, painted steel, painted metal",
                  "white-glossy-paint black-glossy-paint matt-black-paint matt-paint-light-grey matt-paint-mid-grey "
                  "matt-paint-dark-grey glossy-red-paint glossy-blue-paint glossy-green-paint glossy-yellow-paint "
                  "matt-red-paint matt-blue-paint matt-green-paint white-coat-on-steel"},
    MaterialWords{"powder coat, powder coating, powder coated, powdercoat", "black-powder-coat"},
    MaterialWords{"thin paint, undercoat, paint on steel", "white-coat-on-steel"},
    // Textile, leather, food and nature.
    MaterialWords{"textile, cloth, fabric, cotton, polyester, linen, felt, fleece, nonwoven, yarn, carpet, velvet",
                  "textile-white textile-black denim"},
    MaterialWords{"jeans, denim", "denim"},
    MaterialWords{"leather", "leather-brown leather-black"},
    MaterialWords{"bread, loaf, crust, biscuit, cookie", "bread-crust bread-dough"},
    MaterialWords{"dough, pasta", "bread-dough"},
    MaterialWords{"chocolate, cocoa", "milk-chocolate"},
    MaterialWords{"milk, liquid, yoghurt, cream", "whole-milk"},
    MaterialWords{"leaf, leaves, plant, crop", "green-leaf"},
    MaterialWords{"grey card, gray card, reference", "grey-card white-ceramic"},
};

}  // namespace

std::span<const MaterialWords> material_words() {
    return table;
}

}  // namespace spotwright::scenario
