// Zoom, pan, rulers, the reading point and the links between picture and tables.
(function(){
"use strict";
var D=JSON.parse(document.getElementById("data").textContent);
var $=function(s,r){return (r||document).querySelector(s)},$$=function(s,r){return [].slice.call((r||document).querySelectorAll(s))};
window.addEventListener("beforeprint",function(){$$("details").forEach(function(d){d.open=true})});
if(!document.getElementById("view"))return;
var view=$("#view"),sv=$("#sv"),cross=$("#cross"),W=D.w,H=D.h,FULL={x:-3,y:-3,w:D.w+6,h:D.h+6},vb=Object.assign({},FULL),at=null;
var rx=$("#rx"),ry=$("#ry");
function k(){return vb.w/Math.max(1,view.clientWidth)}                     // mm per screen px
function clampBox(){vb.w=Math.min(FULL.w,Math.max(24,vb.w));vb.h=vb.w*FULL.h/FULL.w;
 vb.x=Math.min(FULL.x+FULL.w-vb.w,Math.max(FULL.x,vb.x));vb.y=Math.min(FULL.y+FULL.h-vb.h,Math.max(FULL.y,vb.y))}
function scaleMarks(s){
 $$("[data-s]",sv).forEach(function(g){g.setAttribute("transform","translate("+g.getAttribute("data-s")+") scale("+s.toFixed(4)+")")});
 $$("pattern",sv).forEach(function(p){p.setAttribute("patternTransform",(p.getAttribute("data-t")||"")+" scale("+s.toFixed(4)+")")})}
var calm=0;function draw(){clampBox();sv.classList.add("moving");clearTimeout(calm);calm=setTimeout(function(){sv.classList.remove("moving")},250);sv.setAttribute("viewBox",[vb.x,vb.y,vb.w,vb.h].map(function(v){return v.toFixed(3)}).join(" "));
 view.classList.toggle("in",vb.w<FULL.w-.5);sv.classList.toggle("deep",k()<.2);var s=k();scaleMarks(s>.6?s*.8:s);rulers();hair()}
function step(s,px,a){for(var i=0;i<a.length;i++)if(a[i]/s>=px)return a[i];return a[a.length-1]}
function rulers(){
 var s=k(),lab=step(s,36,[5,10,20,50,100]),m=step(s,3.6,[1,2,5,10].filter(function(v){return lab%v===0}));
 [[rx,vb.x,W,true],[ry,vb.y,H,false]].forEach(function(r){
  var el=r[0],o=r[1],max=r[2],hor=r[3],L=hor?view.clientWidth:view.clientHeight,d="",t="";
  el.setAttribute("viewBox",hor?"0 0 "+L+" 26":"0 0 34 "+L);
  for(var v=Math.max(0,Math.ceil(o/m)*m);v<=Math.min(max,o+L*s);v+=m){
   var p=Math.round((v-o)/s)+.5,big=v%lab===0,mid=v%(lab===50?10:lab/2)===0,n=big?11:mid?8:4;
   d+=hor?"M"+p+" 26v"+-n:"M34 "+p+"h"+-n;
   if(big)t+=hor?'<text x="'+(p-.5)+'" y="11" text-anchor="middle">'+v+"</text>":'<text x="20" y="'+(p+3.5)+'" text-anchor="end">'+v+"</text>"}
  var e0=Math.max(0,(0-o)/s),e1=Math.min(L,(max-o)/s);
  d+=hor?"M"+e0+" 25.5H"+e1:"M33.5 "+e0+"V"+e1;
  el.innerHTML='<path d="'+d+'"/>'+t+(at?(function(){var q=((hor?at.x:at.y)-o)/s;return q<0||q>L?"":'<path class="ptr" d="'+(hor?"M"+q+" 26l-4.5 -10h9z":"M34 "+q+"l-10 -4.5v9z")+'"/>'})():"")})}
function hair(){if(!at){cross.style.display="none";return}
 cross.style.display="";var g=k()*7,d="M"+vb.x+" "+at.y+"H"+(at.x-g)+"M"+(at.x+g)+" "+at.y+"H"+(vb.x+vb.w)+"M"+at.x+" "+vb.y+"V"+(at.y-g)+"M"+at.x+" "+(at.y+g)+"V"+(vb.y+vb.h);
 $$("path",cross).forEach(function(p){p.setAttribute("d",d)})}
function dec(a,x,y){var g=D.grid,i=Math.floor((x-g.x)/g.step),j=Math.floor((y-g.y)/g.step);
 if(!a||i<0||j<0||i>=g.columns||j>=g.rows)return null;return a[j*g.columns+i]}
function turn(v,u){return v===null||v===undefined?"not read":sgn(v)+' <span class="u" style="display:inline;font-size:1rem">\u00b1'+u.toFixed(1)+"</span>"}
function poly(p,x,y){for(var c=false,i=0;i<p.length;i++)if(inside(p[i],x,y))c=!c;return c}
function sgn(v){return (v<-.05?"\u2212":"+")+Math.abs(v).toFixed(1)+"\u00b0"}
function inside(p,x,y){var c=false,i,j;for(i=0,j=p.length-1;i<p.length;j=i++){if((p[i][1]>y)!==(p[j][1]>y)&&x<(p[j][0]-p[i][0])*(y-p[i][1])/(p[j][1]-p[i][1])+p[i][0])c=!c}return c}
function what(x,y){var r=[];
 if(D.outline?!poly(D.outline,x,y):x<0||y<0||x>W||y>H)return "Off the sheet.";
 D.f.forEach(function(f){if(f.p?poly(f.p,x,y):Math.hypot(f.x-x,f.y-y)<Math.max(f.d/2,k()*7))r.push(f.n+" "+f.id+", "+f.s+(f.d?", \u2300 "+f.d.toFixed(1)+" mm":""))});
 D.areas.forEach(function(a){if(poly(a.p,x,y))r.push(a.n)});
 D.b.forEach(function(b){var d=Math.hypot(b[1]-x,b[2]-y);if(d<=b[3]/2)r.push(d<b[5]/2?"Core of ring "+b[0]+", drilled away":d<=b[6]/2?"Ring "+b[0]:d<b[3]/2-b[4]?"Ring "+b[0]+", turned off":"Saw cut of ring "+b[0])});
 return r.length?r.join(". ")+".":(D.b.length?"Sound. No ring here.":"Sound.")}
var say;
function read(x,y,quiet){at={x:Math.min(W,Math.max(0,x)),y:Math.min(H,Math.max(0,y))};
 $("#d-x").textContent=at.x.toFixed(1)+" mm";$("#d-y").textContent=at.y.toFixed(1)+" mm";
 var u=D.grid?D.grid.u95:0;
 $("#d-w").innerHTML=D.grid?turn(dec(D.grid.warp,at.x,at.y),u):"not read";
 $("#d-f").innerHTML=D.grid?turn(dec(D.grid.weft,at.x,at.y),u):"not read";
 clearTimeout(say);say=setTimeout(function(){if(!at)return;var t=what(at.x,at.y);if($("#d-here").textContent!==t)$("#d-here").textContent=t},quiet?0:60);
 rulers();hair()}
function pt(e){var r=view.getBoundingClientRect();return {x:vb.x+(e.clientX-r.left)/r.width*vb.w,y:vb.y+(e.clientY-r.top)/r.height*vb.h}}
function zoom(f,c){c=c||at||{x:vb.x+vb.w/2,y:vb.y+vb.h/2};var w=Math.min(FULL.w,Math.max(24,vb.w*f)),g=w/vb.w;vb.x=c.x-(c.x-vb.x)*g;vb.y=c.y-(c.y-vb.y)*g;vb.w=w;draw()}
$("#zin").onclick=function(){zoom(.6)};$("#zout").onclick=function(){zoom(1/.6)};$("#zfit").onclick=function(){vb=Object.assign({},FULL);draw()};
view.addEventListener("wheel",function(e){if(!(e.ctrlKey||e.metaKey))return;e.preventDefault();zoom(Math.exp(e.deltaY*.004),pt(e))},{passive:false});
var P={},last=null,moved=0;
view.addEventListener("pointerdown",function(e){P[e.pointerId]=e;last=null;moved=0;if(view.classList.contains("in")||e.pointerType==="mouse")try{view.setPointerCapture(e.pointerId)}catch(_){}});
view.addEventListener("pointermove",function(e){
 if(!P[e.pointerId]){if(e.pointerType==="mouse"){var q=pt(e);read(q.x,q.y);link(under(e))}return}
 var ids=Object.keys(P),a=P[e.pointerId];
 if(ids.length===1&&view.classList.contains("in")){var dx=e.clientX-a.clientX,dy=e.clientY-a.clientY;moved+=Math.abs(dx)+Math.abs(dy);vb.x-=dx*k();vb.y-=dy*k();draw()}
 P[e.pointerId]=e;
 if(ids.length===2){var u=P[ids[0]],v=P[ids[1]],d=Math.hypot(u.clientX-v.clientX,u.clientY-v.clientY);moved=99;
  if(last)zoom(last/d,pt({clientX:(u.clientX+v.clientX)/2,clientY:(u.clientY+v.clientY)/2}));last=d}});
function up(e){if(P[e.pointerId]&&moved<6&&e.type==="pointerup"){var q=pt(e);read(q.x,q.y,true);link(under(e))}delete P[e.pointerId];last=null}
view.addEventListener("pointerup",up);view.addEventListener("pointercancel",up);
view.addEventListener("keydown",function(e){var s=e.shiftKey?10:1,a=at||{x:W/2,y:H/2},m={ArrowLeft:[-s,0],ArrowRight:[s,0],ArrowUp:[0,-s],ArrowDown:[0,s]}[e.key];
 if(m){e.preventDefault();read(at?Math.round(a.x+m[0]):a.x,at?Math.round(a.y+m[1]):a.y);var o=20*k();
  if(at.x<vb.x+o||at.x>vb.x+vb.w-o||at.y<vb.y+o||at.y>vb.y+vb.h-o){vb.x=at.x-vb.w/2;vb.y=at.y-vb.h/2;draw()}}
 else if(e.key==="+"||e.key==="=")zoom(.6);else if(e.key==="-")zoom(1/.6);else if(e.key==="0")$("#zfit").click()});
// The mark under the pointer, of the layers that are seen.
function under(e){return document.elementsFromPoint(e.clientX,e.clientY).filter(function(n){var l=n.closest(".L");return !l||!l.classList.contains("away")})[0]}
// one thing, one id: picture and table point at each other; what a button picked stays marked until the next
var picked=null;
function hot(id,on){if(!on&&id===picked)return;$$('[data-id="'+CSS.escape(id)+'"]').forEach(function(n){n.classList.toggle("hot",on)})}
var kept=null,lit=null,still=false;function link(t){var g=t&&t.closest?t.closest("[data-id]"):null,id=g?g.getAttribute("data-id"):null;if(id!==lit){if(lit)hot(lit,false);lit=id;if(id)hot(id,true)}}
view.addEventListener("pointerleave",function(){link(null)});
$$("tr[data-id]").forEach(function(r){var id=r.getAttribute("data-id");
 ["mouseenter","focusin"].forEach(function(n){r.addEventListener(n,function(){hot(id,true)})});
 ["mouseleave","focusout"].forEach(function(n){r.addEventListener(n,function(){hot(id,false)})});
 var b=$("button",r);if(b)b.onclick=function(){var was=picked;picked=id;if(was!==null&&was!==id)hot(was,false);var x=+r.dataset.x,y=+r.dataset.y;vb.w=80;vb.h=80*FULL.h/FULL.w;vb.x=x-vb.w/2;vb.y=y-vb.h/2;
  at={x:x,y:y};draw();read(x,y,true);if(!still){view.scrollIntoView({block:"center"});view.focus({preventScroll:true})}hot(id,true)}});
// Every layer keeps its own drawn surface, so a switch only lays surfaces over each other anew and draws nothing. A layer
// that is off stays drawn but unseen, though not while the picture moves; those off at first are drawn once all rests.
function show(c){var g=$('.L[data-l="'+c.value+'"]');g.style.display="";g.classList.toggle("away",!c.checked);c.closest("li").classList.toggle("off",!c.checked)}
$$(".key input").forEach(function(c){c.closest("li").classList.toggle("off",!c.checked);c.addEventListener("change",function(){show(c)});if(c.checked)show(c)});
function rest(){$$(".key input").forEach(show)}
window.addEventListener("load",function(){if(window.requestIdleCallback)requestIdleCallback(rest,{timeout:2000});else setTimeout(rest,600)});
window.addEventListener("resize",draw);
window.addEventListener("beforeprint",function(){kept=[vb,at];vb=Object.assign({},FULL);at=null;$(".frame").style.width=Math.min(600,378*FULL.w/FULL.h+34)+"px";draw()});
window.addEventListener("afterprint",function(){$(".frame").style.width="";if(kept){vb=kept[0];at=kept[1]}draw()});
draw();
if(location.hash.slice(0,3)==="#F="){var r=$('tr[data-id="'+CSS.escape(decodeURIComponent(location.hash.slice(3)))+'"] button');if(r){still=true;r.click();still=false}}
})();
