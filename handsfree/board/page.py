"""The board's page: one document, nothing fetched from anywhere; every value is written as text."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

_STYLE = """
*{box-sizing:border-box;margin:0}
:root{--paper:#f6f2ea;--ink:#1d1a17;--muted:#5a534b;--rule:#cbc2b4;--ox:#7a1f2b}
html,body{height:100%}
body{background:var(--paper);color:var(--ink);overflow:hidden;
 font:2.6vmin/1.15 "Gill Sans Nova","Gill Sans",Optima,Candara,"Liberation Sans",Arial,sans-serif;
 font-variant-numeric:lining-nums tabular-nums;display:grid;
 grid-template:auto 1fr auto/1fr 36vmin;gap:0 3vmin;padding:2.4vmin 3vmin}
header{grid-column:1/3;display:flex;gap:4vmin;align-items:baseline;border-bottom:.7vmin solid var(--ink);
 padding-bottom:1.2vmin}
h1,.fig b,#pieces b,#ask p{font-family:"Hoefler Text","Palatino Linotype",Palatino,Georgia,
 "Liberation Serif",serif;font-weight:600}
h1{font-size:6.2vmin;flex:1}
#bench{font-size:3.1vmin;color:var(--muted);max-width:30vmin}
.fig b{display:block;font-size:6.2vmin;line-height:1}.fig{text-align:right}
.fig span{color:var(--muted)}
#pieces{list-style:none;padding:1vmin 0 0;align-self:start}
#pieces li{display:flex;align-items:baseline;gap:3vmin;border-bottom:.2vmin solid var(--rule);
 padding:.6vmin 0;font-size:5.4vmin}
#pieces li:first-child{font-size:9.4vmin}
#pieces b{min-width:25vmin;text-align:right}
#pieces i{font-style:normal;font-size:2.6vmin;color:var(--muted);margin-left:auto}
#pieces .struck{color:var(--muted)}#pieces .struck b,#pieces .struck span{text-decoration:line-through}
#pieces .bare span{border-bottom:.7vmin dashed var(--ox)}
aside{border-left:.2vmin solid var(--rule);padding:1.6vmin 0 0 3vmin;display:flex;flex-direction:column;
 min-height:0;overflow:hidden}
#twin{flex:none;width:24vmin;height:24vmin;fill:var(--ink);align-self:center}
#twin.off{opacity:.08}
#word{font-size:5.4vmin;text-align:center;font-weight:600}
#said{text-align:center;color:var(--muted);min-height:2.3em}
aside h2{font-size:2.6vmin;color:var(--muted);font-weight:600;margin-top:1vmin}
#remains{flex:1;min-height:0;display:flex;flex-direction:column}
#left{list-style:none;padding:0;overflow:hidden;font-size:3.1vmin;flex:1;min-height:0}
footer{grid-column:1/3}
#ask{background:var(--ink);color:var(--paper);padding:1.2vmin 3vmin;margin-top:1vmin}
#ask p{font-size:7.4vmin;line-height:1.1}
#ask span{font-size:3.6vmin;margin-right:4vmin}
.bad{border-left:2vmin solid var(--ox);padding:.4vmin 2vmin;font-size:4vmin;color:var(--ox);margin-top:1vmin}
[hidden]{display:none!important}
"""

_SCRIPT = r"""
const TWINS=JSON.parse(document.getElementById("twins").textContent);
const at=id=>document.getElementById(id);
let shown=null,timers=[],heard=Date.now(),joined=false;
function put(id,text){at(id).textContent=text}
function list(id,items,make){at(id).replaceChildren(...items.map(make))}
function line(text){const li=document.createElement("li");li.textContent=text;return li}
function part(kind,text){const e=document.createElement(kind);e.textContent=text;return e}
function fit(id,items){const ul=at(id);
 for(let n=items.length;n>=0;n--){const more=items.length-n;
  list(id,more?[...items.slice(0,n),"and "+more+" more"]:items,line);
  if(ul.scrollHeight<=ul.clientHeight)return}}
function piece(p){const li=document.createElement("li");
 if(p.struck)li.classList.add("struck");if(!p.named)li.classList.add("bare");
 li.append(part("b",p.kg),part("span",p.name),part("i",p.struck?"struck":p.to));return li}
function twin(s,blink){const t=TWINS[s.tone];if(!t)return;
 timers.forEach(clearTimeout);timers=[];
 at("outline").setAttribute("d",t.outline);put("word",t.word);put("said",s.text);
 at("twin").classList.remove("off");if(!blink)return;
 let when=0;at("twin").classList.add("off");
 const cycle=[300,...t.blinks_ms];
 for(let i=0;i<cycle.length;i++){when+=cycle[i];
  timers.push(setTimeout(()=>at("twin").classList.toggle("off",i%2===1),when))}
 timers.push(setTimeout(()=>at("twin").classList.remove("off"),when+300))}
function show(v){
 put("title",v.title||"No carcass in hand");
 at("bench").hidden=!v.butcher;put("bench",v.butcher);
 at("figures").hidden=!v.title;
 put("dressed",v.dressed||"–");put("accounted",v.accounted);put("togo",v.to_go||"–");
 put("togoname",v.over?"kg over":"kg to go");put("count",v.count+(v.count===1?" piece, kg":" pieces, kg"));
 list("pieces",v.pieces,piece);
 at("nameless").hidden=!v.unnamed.length;
 put("nameless",v.unnamed.length?"Without a name: "+v.unnamed.join(", ")+" kg":"");
 at("remains").hidden=!v.remaining.length;
 at("ask").hidden=!v.asked;
 if(v.asked){put("question",v.asked.text);list("options",v.asked.options,o=>part("span",o))}
 at("troubles").hidden=!v.troubles.length;put("troubles",v.troubles.join(" · "));
 if(v.recorder!=="running")
  {put("stopped","The recorder is not running: nothing said or weighed is written down.")}
 at("stopped").hidden=v.recorder==="running";
 if(v.sounded){if(v.sounded.number!==shown)twin(v.sounded,joined);shown=v.sounded.number}
 fit("left",v.remaining);  // last: all else has its room by now
 joined=true}
function fresh(){const lost=Date.now()-heard>6000;at("lost").hidden=!lost;}
setInterval(fresh,1000);
const source=new EventSource("events");
source.onmessage=e=>{heard=Date.now();fresh();show(JSON.parse(e.data))};
source.addEventListener("beat",()=>{heard=Date.now();fresh()});
"""

_BODY = """
<header><h1 id="title"></h1><p id="bench" hidden></p><div id="figures" style="display:flex;gap:5vmin">
<div class="fig"><b id="dressed"></b><span>kg dressed</span></div>
<div class="fig"><b id="accounted"></b><span id="count"></span></div>
<div class="fig"><b id="togo"></b><span id="togoname"></span></div></div></header>
<ol id="pieces"></ol>
<aside><svg id="twin" class="off" viewBox="0 0 100 100" role="img" aria-labelledby="word">
<path id="outline" fill-rule="evenodd"/></svg>
<p id="word"></p><p id="said"></p>
<div id="remains"><h2>Still to come</h2><ul id="left"></ul></div></aside>
<footer><p id="nameless" class="bad" hidden></p><p id="troubles" class="bad" hidden></p>
<p id="stopped" class="bad" hidden></p>
<p id="lost" class="bad" hidden>No connection to the recorder: what is shown is old. Trying again.</p>
<div id="ask" role="alert" hidden><p id="question"></p><div id="options"></div></div></footer>
"""


def page(larder: str, twins: Mapping[str, Any]) -> str:
    """The document.

    Args:
        larder: Name for the window's title.
        twins: From `twins.twins`.
    """
    data = json.dumps(twins).replace("<", "\\u003c")
    title = larder.replace("&", "&amp;").replace("<", "&lt;")
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>Board – {title}</title><style>{_STYLE}</style></head><body>{_BODY}"
        f'<script type="application/json" id="twins">{data}</script>'
        f"<script>{_SCRIPT}</script></body></html>\n"
    )
